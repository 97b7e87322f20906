package studio

import "time"

// A RecipeOrigin says that a recipe came in a file from elsewhere. OriginID is the
// id it had there, Versions are the versions that came, in the file's order: any
// other was made here afterwards. Document is the recipe as it stood in the file, as
// JSON, so that it goes on as it came.
type RecipeOrigin struct {
	ID         int64
	RecipeID   int64
	OriginID   string
	Versions   []int64
	FileName   string
	FileSHA256 string
	Document   string
	By         string // who took it in, as far as is known
	At         time.Time
}
