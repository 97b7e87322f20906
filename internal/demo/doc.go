// Package demo is an invented studio to look around in: two people, five sets,
// fifty swatches, what happened to them, and photographs of both faces.
//
//	Fill      the records, in a moment
//	Develop   the photographs, drawn, kept and measured; may be stopped and resumed
//	Render    one photograph
//	TruthOf   what is true of a face, to hold the measurement against
//
// Everything is marked invented, and every photograph says so in its corner.
// What the swatches look like follows truth.go, a few made-up lines that are
// not chemistry; how a photograph is drawn from them is in face.go and render.go.
package demo
