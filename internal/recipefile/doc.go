// Package recipefile reads and writes the open recipe file (*.patina.json): one
// or more recipes with their versions, what lies over what, what swatches showed,
// and who made them. doc/recipe-file.md describes it, schema.json checks it.
//
//	Read        bytes from anybody -> a File, or a Problem that says where
//	File.Write  a File -> bytes, always the same for the same File
//	ID          what a recipe began as -> the id it keeps wherever it travels
//	Hide        a File without exact amounts, strengths and times
package recipefile
