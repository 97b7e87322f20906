// Package fonts holds the one type family of the studio, Source Sans 3, as it
// came from Adobe under the SIL Open Font Licence 1.1 (LICENSE-OFL.txt beside it).
//
// The files are unmodified: the licence reserves the name for them.
package fonts

import _ "embed"

// Regular is Source Sans 3 Regular as a TrueType file, for print.
//
//go:embed SourceSans3-Regular.ttf
var Regular []byte

// Bold is Source Sans 3 Bold as a TrueType file, for print.
//
//go:embed SourceSans3-Bold.ttf
var Bold []byte

// Latin is the variable weight of Source Sans 3 for the screen, as WOFF2, with
// the letters of Western Europe.
//
//go:embed source-sans-3-latin-wght-normal.woff2
var Latin []byte

// LatinExt is the variable weight of Source Sans 3 for the screen, as WOFF2,
// with the further Latin letters.
//
//go:embed source-sans-3-latin-ext-wght-normal.woff2
var LatinExt []byte

// Licence is the SIL Open Font Licence 1.1 under which the files are given.
//
//go:embed LICENSE-OFL.txt
var Licence string
