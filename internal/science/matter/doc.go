// Package matter knows the stuff of the patina bench: what a supply is and how
// it can hurt, which two must never meet, which metals there are, and how
// metric and US measures turn into each other.
//
// The facts are in data/*.tsv, one row each with its source and its standing:
// "read in source", "from memory", "common practice, no source" or "computed".
// A dash in a table means none and reads as an empty string.
//
// The package never approves by silence. A substance it does not know, or a
// strength nobody wrote down, gives a caution or is taken as the worst that is
// sold. What it says comes after the label and the safety data sheet of the
// bottle itself, local rules and licensed practice.
package matter
