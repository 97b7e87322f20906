// Package find answers 'where is it' and 'which one was that': where each swatch is
// kept, with what lies beside it, and the swatches that fit a number, words or a look.
//
// The swatches, places and looks come from the caller; nothing here is kept.
package find
