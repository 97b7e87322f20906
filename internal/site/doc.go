// Package site hands recipes on: as an open recipe file, and as a small website of
// recipes and swatches that works from a folder.
//
//	Gather         the studio's records, once
//	RecipeFile     recipes of the studio -> recipefile.File
//	Look, TakeIn   a recipe file -> what would be new, and then kept
//	Build          recipes and sets -> pages, pictures and a recipe file
//	Folder, Zip    where a site is written, whole or not at all
package site
