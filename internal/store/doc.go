// Package store keeps a studio: an ordinary folder that can be copied, with a
// database and the photographs in it.
//
//	studio.db            the records (SQLite; schema.sql is its shape)
//	studio.lock          held while a program has the studio open
//	photos/ab/abcd….jpg  each photograph, named by the SHA-256 of its bytes
//	photos/.arriving/    photographs half written; swept at the next opening
//	photos/.stray/       photograph files no record names, put aside
//	photos/.made/        pictures made from photographs; may be deleted
//	sheets/ab/abcd….pdf  safety data sheets of supplies, named in the same way
//	pieces/ab/abcd….stl  drawings and models of pieces, named in the same way
//	backups/<time>/      whole studios, each can be opened by itself
//
// A [Store] is safe for use by many goroutines. What a person can mend comes
// back as a *studio.Problem, and so does what is not there (Kind NotFound).
// Rules of the trade live elsewhere; here are only keys, ranges and the promise
// that what was kept stays kept.
package store
