package cli

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"

	"aerugo/internal/flow/measure"
	"aerugo/internal/flow/scene"
	"aerugo/internal/picture"
	"aerugo/internal/science/colour"
	"aerugo/internal/science/target"
	"aerugo/internal/studio"
)

type measureVerb struct {
	Photos  []string `arg:"" name:"photograph" help:"Photographs: JPEG, PNG, WebP or HEIC."`
	Corners *string  `placeholder:"X,Y,X,Y,X,Y,X,Y" help:"The face's corners in pixels from the top left: top left, top right, bottom right, bottom left. Without them the whole picture is the face."`
	Grey    *string  `placeholder:"X,Y,W,H" help:"A patch of a grey card in the picture: left, top, width, height in pixels. Without it the colours are uncalibrated."`
	GreyL   *string  `name:"grey-l" placeholder:"L" help:"L* of the grey card; an 18 % card has 49.5, which is taken if nothing is said."`
	Bare    *string  `placeholder:"L,a,b" help:"CIELAB (D50) of the bare metal, by which coverage is judged; read in the same light, or both with a grey card."`
	Mat     bool     `help:"The swatch lies on Aerugo's printed mat: find its corners, its scale, the grey card and its label by it."`
	Ruler   *string  `name:"ruler-mm" placeholder:"MM" help:"What a ruler shows on the printed mat's 100 mm line, 98 to 102: with --mat, all sizes are scaled by it."`
	Target  *string  `placeholder:"WHICH" help:"A 24-patch colour target is in the picture: 'after-2014' or 'before-2014' for the usual one's edition, or a CGATS file with the Lab values of yours."`
	Size    *string  `placeholder:"W,H" help:"The face's real width and height in mm, by which texture, pooling and scale are read."`
	Show    *string  `name:"examples" placeholder:"FILE" help:"A JSON file of places painted by hand on the first photograph, each called bare, patina, brown, green, blue or violet-dark: they train the rule that judges coverage and surface of all the photographs named."`
	Series  bool     `help:"The photographs are of one face through time: lay them on each other and say what changed, and when change was first seen."`
	Times   *string  `placeholder:"TIME,TIME" help:"With --series: when each photograph was taken, like 2026-03-14T09:30, where they do not say it themselves."`
	Lid     *string  `placeholder:"N,N" help:"With --series: which of the photographs were taken through the lid, by their place, like 2,3; or all."`
	JSON    bool     `name:"json" help:"Answer in JSON: an array with one object a photograph."`
}

// Help is shown below the verb's usage.
func (measureVerb) Help() string {
	return `The same marks hold for all the photographs named. All Lab values are CIELAB for D50 and the 2 degree observer; sd is the root mean square distance of the face's places from its mean colour; shares and coverage are fractions from 0 to 1.

` + examplesHelp + `

` + seriesHelp + `

A photograph that can't be measured stands in the answer with the reason as its error, and makes the exit status 2.

` + exits
}

// Limits on memory, so that a folder of large photographs never takes more than
// about 1 GB. A pixel costs this much while a picture is decoded, turned and
// measured: at most, that of a progressive JPEG with full colour.
const (
	mostFile   = 256 << 20
	mostAtOnce = 720 << 20
	perPixel   = 21
	deepPixel  = 28        // 16 bits a channel, interlaced
	softLimit  = 800 << 20 // from which on the garbage collector works harder
)

// reading is what is said about one photograph.
type reading struct {
	File       string         `json:"file"`
	Width      int            `json:"width"`
	Height     int            `json:"height"`
	Profile    string         `json:"profile"`
	Method     string         `json:"method"`
	Calibrated bool           `json:"calibrated"`
	Lab        spreadLab      `json:"lab"`
	Name       string         `json:"name"`
	Palette    []paletteEntry `json:"palette"`
	Coverage   *coverage      `json:"coverage"`
	Classes    []classShare   `json:"classes"`
	ClassRule  string         `json:"class_rule"`
	MMPerPixel *float64       `json:"scale_mm_per_px,omitempty"`
	Correction *corrected     `json:"correction,omitempty"`
	Examples   *examplesUsed  `json:"examples,omitempty"`
	Label      *matLabel      `json:"label,omitempty"`
	Pair       *samePhotoPair `json:"pair,omitempty"`
	Texture    *surface       `json:"texture,omitempty"`
	Pooling    *pooling       `json:"pooling,omitempty"`
	Warnings   []string       `json:"warnings"`
	problem    error          // why it can't be measured
}

// unread is what is said about a photograph that can't be measured.
type unread struct {
	File  string `json:"file"`
	Error string `json:"error"`
}

type plainLab struct {
	L float64 `json:"L"`
	A float64 `json:"a"`
	B float64 `json:"b"`
}

type spreadLab struct {
	plainLab
	SD float64 `json:"sd"`
}

type paletteEntry struct {
	Lab   plainLab `json:"lab"`
	Share float64  `json:"share"`
	Name  string   `json:"name"`
}

type coverage struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Rule  string  `json:"rule"`
	// two doubts that low and high mix; null when not known
	Rules    *[2]float64 `json:"rules"`
	Sampling *[2]float64 `json:"sampling"`
}

func twoOf(r *studio.ShareRange) *[2]float64 {
	if r == nil {
		return nil
	}
	return &[2]float64{round4(r.Low), round4(r.High)}
}

type classShare struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// surface is the pattern of the face's L*, at stated widths in mm.
type surface struct {
	PairMM      float64   `json:"pair_mm"`
	Contrast    float64   `json:"contrast"`
	Homogeneity float64   `json:"homogeneity"`
	Entropy     float64   `json:"entropy"`
	Variance    []atWidth `json:"block_variance"`
	Grain       []atWidth `json:"grain"`
}

type atWidth struct {
	MM    float64 `json:"mm"`
	Value float64 `json:"value"`
}

// pooling is where the deposit lies on the face.
type pooling struct {
	Of         string  `json:"of"`
	EdgeRatio  float64 `json:"edge_ratio"`
	Offset     float64 `json:"offset"`
	OffsetDeg  float64 `json:"offset_deg"`
	Islands    int     `json:"islands"`
	LargestMM  float64 `json:"largest_mm"`
	Clustering float64 `json:"moran_i"`
	BlockMM    float64 `json:"block_mm"`
}

// corrected is what a colour target in the picture made of its colours.
type corrected struct {
	Target  string  `json:"target"`
	Method  string  `json:"method"`
	Patches int     `json:"patches"`
	LOOMean float64 `json:"loo_mean"`
	LOOP95  float64 `json:"loo_p95"`
}

// matLabel is the swatch label read on the mat.
type matLabel struct {
	Swatch int64       `json:"swatch"`
	Face   studio.Face `json:"face"`
	Code   string      `json:"code"`
}

// samePhotoPair is the second swatch of a mat for two, and how far its colour
// is from the first's, with its 95 % interval. In one photograph that difference
// is far surer than between two.
type samePhotoPair struct {
	Lab   spreadLab `json:"lab"`
	Name  string    `json:"name"`
	DE00  float64   `json:"de00"`
	Low   float64   `json:"de00_low"`
	High  float64   `json:"de00_high"`
	By    plainLab  `json:"by"` // second less first
	Label *matLabel `json:"label,omitempty"`
}

func widths(in []studio.ScaleValue) []atWidth {
	out := make([]atWidth, len(in))
	for i, v := range in {
		out[i] = atWidth{round4(v.MM), round4(v.Value)}
	}
	return out
}

// surface puts what was read at a real scale into the answer.
func (r *reading) surface(m studio.Measurement) {
	if c := m.Correction; c != nil {
		r.Correction = &corrected{c.Target, c.Method, c.Patches, round4(c.LOOMean), round4(c.LOOP95)}
	}
	if m.MMPerPixel > 0 {
		mm := round4(m.MMPerPixel)
		r.MMPerPixel = &mm
	}
	if t := m.Texture; t != nil {
		r.Texture = &surface{round4(t.PairMM), round4(t.Contrast), round4(t.Homogeneity), round4(t.Entropy), widths(t.Variance), widths(t.Grain)}
	}
	if p := m.Pooling; p != nil {
		r.Pooling = &pooling{p.Of, round4(p.EdgeRatio), round4(p.Offset), round4(p.OffsetDeg), p.Islands, round4(p.LargestMM), round4(p.Clustering), p.BlockMM}
	}
}

// size reads the face's real size; zero when it was not given.
func (v measureVerb) size() (measure.Size, error) {
	if v.Size == nil {
		return measure.Size{}, nil
	}
	return realSize(*v.Size)
}

// realSize reads a --size.
func realSize(text string) (measure.Size, error) {
	n, err := numbers("size", text, 2, "50,50")
	if err != nil {
		return measure.Size{}, err
	}
	for _, mm := range n {
		if !(mm >= 5 && mm <= 1000) {
			return measure.Size{}, studio.Problemf(studio.Invalid, "size", "--size: a face %v mm wide or high can't be right; write 5 to 1000 mm, like 50,50", mm)
		}
	}
	return measure.Size{WidthMM: n[0], HeightMM: n[1]}, nil
}

// Run measures the photographs.
func (v measureVerb) Run(ctx context.Context, t *term) error {
	marks, err := v.marks()
	if err != nil {
		return err
	}
	job := job{marks: marks, want: scene.Want{Mat: v.Mat}}
	if job.size, err = v.size(); err != nil {
		return err
	}
	if job.want.Target, err = v.target(); err != nil {
		return err
	}
	if v.Mat && (v.Corners != nil || v.Grey != nil) {
		return studio.Problemf(studio.Invalid, "mat", "--mat finds the corners and the grey card itself; leave --corners and --grey out, or --mat")
	}
	if job.ruler, err = v.ruler(); err != nil {
		return err
	}
	old := debug.SetMemoryLimit(softLimit)
	defer debug.SetMemoryLimit(old)
	if job.marks.Trained, err = v.learn(job); err != nil {
		return err
	}
	if v.Series {
		return v.series(ctx, t, job)
	}
	if v.Times != nil || v.Lid != nil {
		return studio.Problemf(studio.Invalid, "series", "--times and --lid are about photographs of one face through time; add --series, or leave them out")
	}
	readings, err := readAll(ctx, v.Photos, job)
	if err != nil {
		return err
	}
	bad := 0
	list := make([]any, 0, len(readings))
	for _, r := range readings {
		if r.problem == nil {
			list = append(list, r)
			continue
		}
		if studio.ProblemIn(r.problem) == nil {
			return fmt.Errorf("measure %s: %w", r.File, r.problem)
		}
		bad++
		list = append(list, unread{r.File, r.problem.Error()})
	}
	if v.JSON {
		err = t.asJSON(list)
	} else {
		err = table(t.stdout, readings)
	}
	if err != nil || bad == 0 {
		return err
	}
	if !v.JSON {
		for _, r := range readings {
			if r.problem != nil {
				text := r.problem.Error()
				if !strings.Contains(text, r.File) {
					text = r.File + ": " + text
				}
				say(t.stderr, text)
			}
		}
		return silent{exitMend}
	}
	return studio.Problemf(studio.Invalid, "", "%d of %d photographs can't be measured; the answer says why", bad, len(readings))
}

// ruler reads how long the mat's line came out.
func (v measureVerb) ruler() (float64, error) {
	if v.Ruler == nil {
		return studio.RulerLineMM, nil
	}
	if !v.Mat {
		return 0, studio.Problemf(studio.Invalid, "ruler-mm", "--ruler-mm says how a printed mat came out, so it needs --mat")
	}
	n, err := numbers("ruler-mm", *v.Ruler, 1, "99.5")
	if err != nil {
		return 0, err
	}
	if err := studio.CheckRuler(n[0]); err != nil {
		return 0, studio.Problemf(studio.Invalid, "ruler-mm", "--ruler-mm: %v", err)
	}
	return n[0], nil
}

// marks reads the marks from the options.
func (v measureVerb) marks() (studio.Marks, error) {
	var m studio.Marks
	if v.Corners != nil {
		var err error
		if m.Corners, err = corners("corners", *v.Corners); err != nil {
			return m, err
		}
	}
	if v.Grey != nil {
		n, err := numbers("grey", *v.Grey, 4, "20,300,90,120")
		if err != nil {
			return m, err
		}
		m.Grey = &studio.Rect{X: n[0], Y: n[1], W: n[2], H: n[3]}
	}
	if v.GreyL != nil {
		n, err := numbers("grey-l", *v.GreyL, 1, "49.5")
		if err != nil {
			return m, err
		}
		if m.GreyL = n[0]; v.Grey == nil {
			return m, studio.Problemf(studio.Invalid, "grey-l", "--grey-l says how light the grey card is, so it needs --grey to say where the card lies")
		}
		if !(m.GreyL >= 10 && m.GreyL <= 98) {
			return m, studio.Problemf(studio.Invalid, "grey-l", "--grey-l: a grey card of L* %v can't be used; it must lie between 10 and 98, and a usual card is %v", m.GreyL, measure.GreyCardL)
		}
	}
	if v.Bare != nil {
		n, err := numbers("bare", *v.Bare, 3, "72.1,6.3,21.4")
		if err != nil {
			return m, err
		}
		if n[0] < 0 || n[0] > 100 || math.Abs(n[1]) > 150 || math.Abs(n[2]) > 150 {
			return m, studio.Problemf(studio.Invalid, "bare", "--bare: %q is no colour a metal can have; L* runs from 0 to 100, a* and b* from about -130 to 130", *v.Bare)
		}
		m.BareLab = &colour.Lab{L: n[0], A: n[1], B: n[2]}
	}
	return m, nil
}

// corners reads a face's four corners.
func corners(option, text string) (*[4]studio.Point, error) {
	n, err := numbers(option, text, 8, "210,180,840,190,850,790,205,800")
	if err != nil {
		return nil, err
	}
	return &[4]studio.Point{{X: n[0], Y: n[1]}, {X: n[2], Y: n[3]}, {X: n[4], Y: n[5]}, {X: n[6], Y: n[7]}}, nil
}

// readAll measures the files, as many at once as there are cores and memory
// allows, and returns what is said of them in their order.
func readAll(ctx context.Context, files []string, job job) ([]reading, error) {
	var (
		out  = make([]reading, len(files))
		next = make(chan int)
		room = newRoom(mostAtOnce)
		wait sync.WaitGroup
	)
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wait.Go(func() {
			for i := range next {
				out[i] = readOne(files[i], job, room)
			}
		})
	}
feed:
	for i := range files {
		select {
		case next <- i:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wait.Wait()
	return out, ctx.Err()
}

// readOne measures one photograph.
func readOne(file string, job job, room *room) reading {
	var r reading
	err := withPicture(file, room, func(img *picture.Image) (err error) {
		r, err = job.read(file, img)
		return err
	}, job.parts()...)
	if err != nil {
		return reading{File: file, problem: err}
	}
	return r
}

// withPicture decodes the photograph in a file and hands it to use, as soon as
// there is room for it. With parts, only those places of it are decoded.
func withPicture(file string, room *room, use func(img *picture.Image) error, parts ...image.Rectangle) error {
	f, err := openFile(file, "a photograph")
	if err != nil {
		return err
	}
	defer f.Close()
	stat, err := f.Stat()
	if err != nil {
		return err
	}
	if stat.Size() > mostFile {
		return studio.Problemf(studio.Invalid, "photo", "The file has %d MB; the most is %d. Send an ordinary JPEG from the camera.", stat.Size()>>20, mostFile>>20)
	}
	taken := room.take(stat.Size())
	defer func() { room.give(taken) }()
	data := make([]byte, stat.Size())
	if _, err := io.ReadFull(f, data); err != nil {
		return studio.Problemf(studio.Machine, "photo", "The file can't be read (%s). Copy it to this machine's own disk and try again.", plainly(err))
	}
	info, err := picture.Inspect(data)
	if err != nil {
		return err
	}
	cost := int64(perPixel)
	if info.BitDepth > 8 {
		cost = deepPixel
	}
	// What was taken for the file is given back first: two that each hold some
	// and wait for more would wait for ever.
	room.give(taken)
	taken = room.take(stat.Size() + cost*int64(info.Width)*int64(info.Height))
	img, err := picture.DecodeParts(data, parts)
	if err != nil {
		return err
	}
	return use(img)
}

// job is what to do with each photograph.
type job struct {
	marks studio.Marks
	size  measure.Size
	want  scene.Want
	ruler float64 // mm that the mat's 100 mm line measures
}

// parts are the places of a photograph that read looks at; none for all.
func (j job) parts() []image.Rectangle {
	if j.want.Mat || j.want.Target != nil {
		return nil
	}
	return measure.Parts(j.marks)
}

// read measures one decoded photograph.
func (j job) read(file string, img *picture.Image) (reading, error) {
	s, err := scene.Look(img, j.want)
	if err != nil {
		return reading{}, err
	}
	face := func(i int) (studio.Measurement, error) {
		marks, size := j.marks, j.size
		if j.want.Mat {
			var ok bool
			if marks, size, ok = s.Face(i); !ok {
				return studio.Measurement{}, s.Swatches[i].Problem
			}
			size = scene.Scaled(size, j.ruler)
			marks.Bare, marks.BareLab, marks.BareOf, marks.GreyL, marks.Trained = j.marks.Bare, j.marks.BareLab, j.marks.BareOf, j.marks.GreyL, j.marks.Trained
		}
		return measure.MeasureUnder(img, marks, size, s.Under())
	}
	m, err := face(0)
	if err != nil {
		return reading{}, err
	}
	r := said(file, img, m)
	r.Warnings = append(r.Warnings, s.Notes...)
	r.Label = labelOn(s, 0)
	if len(s.Swatches) > 1 {
		other, err := face(1)
		if err != nil {
			r.Warnings = append(r.Warnings, err.Error())
			return r, nil
		}
		d := scene.Between(m, other)
		r.Pair = &samePhotoPair{spreadLab{labOf(other.Lab), round4(other.SD)}, other.Name, round4(d.DE00), round4(d.Low), round4(d.High), labOf(colour.Lab{L: d.L, A: d.A, B: d.B}), labelOn(s, 1)}
	}
	return r, nil
}

func labelOn(s scene.Scene, i int) *matLabel {
	l, ok := s.Label(i)
	if !ok {
		return nil
	}
	return &matLabel{l.Number, l.Face, l.Text}
}

// target reads which colour target is in the picture; nil for none.
func (v measureVerb) target() (*target.Reference, error) {
	if v.Target == nil {
		return nil, nil
	}
	var ref target.Reference
	switch *v.Target {
	case "after-2014":
		ref = target.After2014()
	case "before-2014":
		ref = target.Before2014()
	default:
		f, err := openFile(*v.Target, "a CGATS file")
		if err != nil {
			return nil, err
		}
		defer f.Close()
		const most = 4 << 20
		b, err := io.ReadAll(io.LimitReader(f, most+1))
		if err != nil || len(b) > most {
			return nil, studio.Problemf(studio.Invalid, "target", "--target: %s can't be read as a CGATS file; it must be text of at most 4 MB", *v.Target)
		}
		tables, err := target.ReadCGATS(string(b))
		if err != nil || len(tables) == 0 {
			return nil, studio.Problemf(studio.Invalid, "target", "--target: %s is no CGATS file with Lab values (%v); write 'after-2014' or 'before-2014', or name such a file", *v.Target, err)
		}
		if ref, err = tables[0].Reference(filepath.Base(*v.Target), "as given"); err != nil {
			return nil, studio.Problemf(studio.Invalid, "target", "--target: %s holds no Lab values that can be used: %v", *v.Target, err)
		}
	}
	return &ref, nil
}

// said puts a measurement into the form of the answer.
func said(file string, img *picture.Image, m studio.Measurement) reading {
	r := reading{File: file, Width: img.Width, Height: img.Height, Profile: img.Info.Profile, Method: m.Method, Calibrated: m.Calibrated,
		Lab: spreadLab{labOf(m.Lab), round4(m.SD)}, Name: m.Name, Palette: []paletteEntry{}, Classes: []classShare{}, ClassRule: m.ClassRule, Warnings: []string{}}
	for _, p := range m.Palette {
		r.Palette = append(r.Palette, paletteEntry{labOf(p.Lab), round4(p.Share), p.Name})
	}
	if c := m.Coverage; c != nil {
		r.Coverage = &coverage{round4(c.Value), round4(c.Low), round4(c.High), c.Rule, twoOf(c.Rules), twoOf(c.Sampling)}
	}
	for _, c := range m.Classes {
		r.Classes = append(r.Classes, classShare{c.Name, round4(c.Share)})
	}
	r.surface(m)
	r.Examples = usedIn(m)
	r.Warnings = append(append(r.Warnings, img.Info.Warnings...), m.Warnings...)
	return r
}

// Four decimals are far finer than any photograph is true.
func round4(v float64) float64 { return math.Round(v*1e4) / 1e4 }

func labOf(l colour.Lab) plainLab { return plainLab{round4(l.L), round4(l.A), round4(l.B)} }
