// Package evidence says what the swatches made with a recipe know about it.
//
//	Diff              two versions -> what is done otherwise, step by step
//	RepeatOf          swatches made alike -> how far they differ, and from day to day
//	ShiftOf           swatches of two versions -> the change in look
//	EffectsOf, Mind   what sets showed -> what to keep tight, and what doesn't matter
//	Lineage           versions -> what came from what, and what lies over what
//	FromSwatch        a swatch as really run -> a version of a recipe
package evidence
