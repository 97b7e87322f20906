// Package last is about what becomes of a finished colour: what sealing does to it,
// what it stands, and what may be promised to whoever takes the piece home.
//
//	Halves, CompareSealers   a face sealed on one half; the shift of each sealer
//	Gate                     whether a face may be sealed yet
//	Protocols                tests done by hand, step by step, with their grades
//	Due, Calendar            what is to be looked at, and when
//	ChangeOf, CurveOf        what a test did, and how it goes on over months
//	CareOf                   the care sheet: only what was tested is told
//
// The tests follow published ones in their manner. None of them claims to conform:
// the standards are made for paint, textiles or bare metal, and their full text has
// to be bought.
package last
