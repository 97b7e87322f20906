// Package archive packs a whole studio into one ZIP file that anyone can open
// and read, and takes such a file back in. The format is described in
// doc/archive.md.
//
// The same studio always packs to the same bytes, the time in the manifest apart.
package archive
