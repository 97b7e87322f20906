// Package print writes what leaves the studio on paper, as PDF to an io.Writer.
//
//	Labels      two small labels per swatch, with a code the phone reads
//	RecipeCard  one recipe on one page, with its cautions
//	BenchSheet  a set in the order of work, with boxes to write in
//	MixCard     a bottle let down with water: what to weigh, and the jar's label
//	CareSheet   how to look after a piece, for whoever takes it home
//	...         and the others that take an io.Writer first
//
// Each of them fills a [Words] too, given in the writer's place: what the sheet says,
// with its headings and tables, for a page that is read aloud. [In] makes the writer one
// for a sheet in another language than English.
//
// It is given everything, the date included, so that the same input makes the
// same file. No text leaves its cell: a line that is too long is set smaller,
// then shortened with an ellipsis; a list that is too long goes on overleaf and
// says so. The only colours are those of the swatches.
package print
