// Package room estimates the air of a workroom: what a lid opened or a bottle
// spilt does to it, how long it takes to clear, and how that stands against
// published limits.
//
// The room is taken as one well-mixed box whose air changes at a steady rate,
// V dC/dt = G - (Q/K) C, where K (1 to 10) stands for air that is badly mixed.
// Such a sum says nothing of the air at the lid itself, which can be thousands
// of times stronger: there it is distance that helps, not air changes. Smell is
// not a meter; a detector is.
package room
