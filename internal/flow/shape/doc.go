// Package shape stands between a piece as it is kept and its form as it is
// reckoned: what a person types or sends becomes a [studio.Form] with its areas and a
// [Body] to look over, turn, and draw.
//
//	Kinds, Of        shapes by their sizes
//	Read             a drawing or a model
//	Body             its triangles: ways up, where liquid stays, whether it fits
//	Guess, Expected  how a face is expected to look, from the swatches of its recipe
//	Draw             a picture of it, by slope or as it may look
//
// Lengths are millimetres. Nothing here reads a file, the clock or unseeded chance.
package shape
