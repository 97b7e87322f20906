package studio

import (
	"encoding/hex"
	"math"
	"strings"
	"time"
)

// A Form is the shape of a piece. Kind and DimsMM are those of a simple shape,
// or of a drawing or mesh kept as the file SHA256, whose own unit is UnitMM
// millimetres. The areas are of one piece, as reckoned by By; SizeMM is its
// length, width and height as it stands. Up points to the sky in the file's axes.
type Form struct {
	Kind       string
	DimsMM     map[string]float64
	SHA256     string
	FileName   string
	Format     string // "SVG", "DXF", "STL", "OBJ", "3MF"; empty for a simple shape
	Bytes      int64  // of the file
	UnitMM     float64
	Up         [3]float64
	OutsideMM2 float64
	InsideMM2  float64
	SheetMM2   float64 // cut from the sheet, offcuts left out
	SizeMM     [3]float64
	By         string
	Doubts     []string // what is wrong with the file, in plain words
}

// FormFormats are the formats of drawings and models that are kept, and their
// files' endings.
var FormFormats = map[string]string{"SVG": "svg", "DXF": "dxf", "STL": "stl", "OBJ": "obj", "3MF": "3mf"}

// MaxFormFile is the largest drawing or model kept, in bytes.
const MaxFormFile = 64 << 20

// checkFile reports a Problem when f names a file that cannot be kept.
func (f Form) checkFile() error {
	if f.SHA256 == "" && f.Format == "" {
		return nil
	}
	if b, err := hex.DecodeString(f.SHA256); err != nil || len(b) != 32 || strings.ToLower(f.SHA256) != f.SHA256 {
		return Problemf(Invalid, "file", "%q is not the name of a drawing's or model's file.", f.SHA256)
	}
	if FormFormats[f.Format] == "" {
		return Problemf(Invalid, "file", "A file of the format %q can't be kept; send SVG, DXF, STL, OBJ or 3MF.", f.Format)
	}
	if f.Bytes < 1 || f.Bytes > MaxFormFile {
		return Problemf(Invalid, "file", "The file has %.1f MB; it must be from 1 byte to %d MB.", float64(f.Bytes)/(1<<20), MaxFormFile>>20)
	}
	return nil
}

// Check reports a Problem when f cannot be kept.
func (f Form) Check() error {
	if strings.TrimSpace(f.Kind) == "" {
		return Problemf(Invalid, "form", "Say what shape the piece has.")
	}
	if err := f.checkFile(); err != nil {
		return err
	}
	for _, a := range []struct {
		field, what string
		mm2         float64
	}{{"outside", "outside", f.OutsideMM2}, {"inside", "inside", f.InsideMM2}, {"sheet", "sheet", f.SheetMM2}} {
		if !(a.mm2 >= 0 && a.mm2 <= 1e9) {
			return Problemf(Invalid, a.field, "An area of %v mm² of the %s can't be right; it must be from 0 to 1 000 000 000 mm² (1000 m²).", a.mm2, a.what)
		}
	}
	if f.OutsideMM2+f.InsideMM2 == 0 {
		return Problemf(Invalid, "outside", "The piece has no area; write its sizes.")
	}
	for i, mm := range f.SizeMM {
		if !(mm >= 0 && mm <= 1e5) || math.IsNaN(mm) {
			return Problemf(Invalid, "size", "A %s of %v mm can't be right; it must be from 0 to 100 000 mm.", [...]string{"length", "width", "height"}[i], mm)
		}
	}
	return nil
}

// A Piece is a real object to be coloured: its form, its metal and the recipe it
// gets. What is made of it are batches: sets whose Set.PieceID names it, and
// whose swatches are the pieces themselves, the outside as their front.
type Piece struct {
	ID        int64
	Name      string
	Form      Form
	MetalID   int64
	OutsideID int64 // recipe version of the outside, 0 for none
	InsideID  int64 // of the inside, 0 for none
	SameFaces bool  // inside and outside get the same in one run
	Reference int64 // number of the swatch it is to look like, 0 for none
	Note      string
	Made      time.Time
	Invented  bool
	BinnedAt  time.Time
}

// Check reports a Problem when p cannot be kept.
func (p Piece) Check() error {
	if err := checkName(p.Name, "name"); err != nil {
		return err
	}
	if p.SameFaces && p.InsideID != 0 {
		return Problemf(Invalid, "inside", "Inside and outside get the same treatment, so the inside can't have a recipe of its own; choose one or the other.")
	}
	return p.Form.Check()
}
