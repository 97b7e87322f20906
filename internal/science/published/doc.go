// Package published is the library of patina recipes that somebody once
// printed: what goes in, in the units of the source and in metric, how it is
// done, what look it gives, how it hurts, and who may do it.
//
// data/recipes.csv holds each recipe as it was read, with its source and
// standing; words.tsv and ingredients.tsv say the same in our own words, row by
// row. The judgement who may do it comes from the file and is only ever made
// stricter here: by package matter, and by what nobody knows.
//
//	All, ByKey        the recipes
//	Search            by words, metal, colour, use, shelf, heat
//	Recipe.Batch      how much of each for an amount
//	Recipe.Clashes    what must never meet in it
package published
