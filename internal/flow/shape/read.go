package shape

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"strings"

	"aerugo/internal/flow/form"
	"aerugo/internal/studio"
)

// Options say how large a drawing or model is.
type Options struct {
	UnitMM    float64 // length of its unit in mm; 0: as the file says, else mm
	LongestMM float64 // its longest side, where that is known; 0: not said
	ThickMM   float64 // of the sheet
}

// Kinds of form that come from a file.
const (
	Drawing = "drawing"
	Model   = "model"
)

// FormatOf tells the format of a drawing or model by the ending of its name and, for
// what names hide, by how it begins.
func FormatOf(name string, data []byte) (string, error) {
	format := strings.ToUpper(strings.TrimPrefix(path.Ext(strings.ToLower(name)), "."))
	if studio.FormFormats[format] == "" {
		return "", studio.Problemf(studio.Invalid, "file", "%q is no drawing or model that can be read; send SVG or DXF for what is flat, STL, OBJ or 3MF for what is in the round.", path.Base(name))
	}
	if packed := bytes.HasPrefix(data, []byte("PK\x03\x04")); packed != (format == "3MF") {
		if packed {
			return "", studio.Problemf(studio.Invalid, "file", "The file is named %s but is packed like 3MF; give it its own ending and send it again.", format)
		}
		return "", studio.Problemf(studio.Invalid, "file", "The file is named 3MF but is none; send it under its own ending.")
	}
	return format, nil
}

// Read makes a form and a body of a drawing or model. What is wrong with the file but
// does not stop it stands in the form's doubts. A model whose skin is closed counts
// as the whole metal, all of it outside; an open one stands for sheet, the same area
// inside as outside.
func Read(name string, data []byte, opt Options) (studio.Form, Body, error) {
	format, err := FormatOf(name, data)
	if err != nil {
		return studio.Form{}, Body{}, err
	}
	if len(data) > studio.MaxFormFile {
		return studio.Form{}, Body{}, studio.Problemf(studio.Invalid, "file", "The file has %.1f MB; %d MB are the most.", float64(len(data))/(1<<20), studio.MaxFormFile>>20)
	}
	if !(opt.LongestMM >= 0 && opt.LongestMM <= 1e5) {
		return studio.Form{}, Body{}, studio.Problemf(studio.Invalid, "longest", "A longest side of %v mm can't be right; it must be from 0 to 100 000 mm.", opt.LongestMM)
	}
	hash := sha256.Sum256(data)
	f := studio.Form{Format: format, FileName: path.Base(name), SHA256: hex.EncodeToString(hash[:]), Bytes: int64(len(data)), UnitMM: opt.UnitMM, Up: [3]float64{0, 0, 1}, DimsMM: map[string]float64{Thickness: opt.ThickMM}}
	if opt.LongestMM > 0 {
		f.DimsMM["longest"] = opt.LongestMM
	}
	var b Body
	if format == "SVG" || format == "DXF" {
		b, err = f2(&f, data, opt)
	} else {
		b, err = f3(&f, data, opt)
	}
	if err != nil {
		return f, b, atFile(err)
	}
	return f, b, f.Check()
}

// Again reads the body of a form that was kept.
func Again(f studio.Form, data []byte) (Body, error) {
	if f.Format == "" {
		return bodyOf(f.Kind, f.DimsMM)
	}
	_, b, err := Read("kept."+strings.ToLower(f.Format), data, Options{UnitMM: f.UnitMM, LongestMM: f.DimsMM["longest"], ThickMM: f.DimsMM[Thickness]})
	return b, err
}

// f2 fills in a flat drawing.
func f2(f *studio.Form, data []byte, opt Options) (Body, error) {
	read := form.ReadSVG
	if f.Format == "DXF" {
		read = form.ReadDXF
	}
	o, err := read(data, form.DrawingOptions{UnitMM: opt.UnitMM})
	if err != nil {
		return Body{}, err
	}
	if opt.LongestMM > 0 {
		longest := max(o.Box.Width(), o.Box.Height())
		if !(longest > 0) {
			return Body{}, studio.Problemf(studio.Invalid, "file", "The drawing has no size.")
		}
		if o, err = o.Scaled(opt.LongestMM / longest); err != nil {
			return Body{}, err
		}
		o.Assumed = false
	}
	a, err := o.Surfaces(opt.ThickMM)
	if err != nil {
		return Body{}, err
	}
	f.Kind, f.By = Drawing, byDrawing
	f.OutsideMM2, f.InsideMM2, f.SheetMM2 = a.OutsideMM2, a.InsideMM2, a.SheetMM2
	f.SizeMM = [3]float64{o.Box.Width(), o.Box.Height(), opt.ThickMM}
	if o.Assumed {
		f.Doubts = append(f.Doubts, "The file does not say how long its unit is; give its unit or a known length to be sure.")
	}
	f.Doubts = append(f.Doubts, o.Notes...)
	for i, g := range o.Open {
		if i == 5 {
			f.Doubts = append(f.Doubts, fmt.Sprintf("%d more lines do not close.", len(o.Open)-i))
			break
		}
		f.Doubts = append(f.Doubts, g.String())
	}
	tris := flat(o)
	if len(tris) == 0 {
		return Body{}, studio.Problemf(studio.Invalid, "file", "The drawing encloses no metal: its lines have to close.")
	}
	m, err := meshOf(tris)
	return Body{Mesh: m, Both: true}, err
}

// f3 fills in a model in the round.
func f3(f *studio.Form, data []byte, opt Options) (Body, error) {
	m, err := form.ReadMesh(data, form.MeshOptions{UnitMM: opt.UnitMM})
	if err != nil {
		return Body{}, err
	}
	assumed := m.Assumed
	if opt.LongestMM > 0 {
		if m, err = m.ScaledTo(opt.LongestMM); err != nil {
			return Body{}, err
		}
		assumed = false
	}
	health := m.Health()
	area := m.AreaMM2()
	f.Kind, f.By, f.OutsideMM2 = Model, byModel, area
	if !health.Closed {
		f.InsideMM2, f.SheetMM2 = area, area
	}
	size := m.Box().Size()
	f.SizeMM = [3]float64{size.X, size.Y, size.Z}
	if assumed {
		f.Doubts = append(f.Doubts, "The file does not say how long its unit is; it is taken as 1 mm. Give its unit or a known length to be sure.")
	}
	for _, n := range m.Notes {
		if !strings.Contains(n, "what its unit is") {
			f.Doubts = append(f.Doubts, n)
		}
	}
	f.Doubts = append(f.Doubts, health.Words()...)
	return Body{Mesh: m, Both: !health.Closed}, nil
}

// atFile puts a Problem of a file beside the field that it was sent in, unless it is
// of the unit or length.
func atFile(err error) error {
	p := studio.ProblemIn(err)
	if p == nil || p.Field == "unit" || p.Field == "longest" {
		return err
	}
	field := "file"
	if p.Field == "scale" {
		field = "longest"
	}
	return studio.Problemf(p.Kind, field, "%s", p.Text)
}
