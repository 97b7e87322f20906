// Package fume says what a chamber's air does to the swatches in it. It turns
// the studio's words (a chamber and its log, treatments and what was really
// tapped) into a run of [chamber], and the run back into what a person at the
// bench asks: is it safe to open, is the salt dissolved, when do I come back.
//
//	StaysOf      a treatment and its record -> its stays in the chamber
//	Look         the chamber now, and how it goes on
//	Forecast     a planned treatment, alone in a freshly charged chamber
//	Calibrate    weighed caps and watched faces -> how fast water really travels
package fume
