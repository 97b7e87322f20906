package store

import (
	"context"
	"crypto/rand"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

var update = flag.Bool("update", false, "write schema.sql, and testdata/vN.db for a new schema N")

var ctx = context.Background()

// noon is when the tests' clock stands, unless they move it.
var noon = time.Date(2026, 3, 14, 12, 0, 0, 123e6, time.UTC)

// clock is a time a test can move.
type clock struct{ t time.Time }

func (c *clock) now() time.Time { return c.t }

func mustOpen(t testing.TB, dir string, c *clock) *Store {
	t.Helper()
	if c == nil {
		c = &clock{noon}
	}
	s, err := Open(ctx, dir, Options{Now: c.now})
	if err != nil {
		t.Fatalf("open %s: %v", dir, err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func fresh(t testing.TB) *Store {
	t.Helper()
	return mustOpen(t, filepath.Join(t.TempDir(), "studio"), nil)
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// wantProblem checks that err is for a person, of that kind, and says so.
func wantProblem(t testing.TB, err error, kind studio.Kind, says string) {
	t.Helper()
	p := studio.ProblemIn(err)
	if p == nil {
		t.Fatalf("got error %v, want a Problem saying %q", err, says)
	}
	if p.Kind != kind || !strings.Contains(p.Text, says) {
		t.Errorf("got Problem of kind %d: %s\nwant kind %d saying %q", p.Kind, p.Text, kind, says)
	}
}

// reporter is what testing and rapid have in common.
type reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

func same(t reporter, what string, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s (-want +got):\n%s", what, d)
	}
}

func wantSound(t testing.TB, s *Store) {
	t.Helper()
	faults, err := s.Check(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(faults) > 0 {
		t.Errorf("the studio is not sound: %s", strings.Join(faults, " "))
	}
}

// bench is a small studio's worth of records.
type bench struct {
	metal   studio.Metal
	salt    studio.Supply
	chamber studio.Chamber
	recipe  studio.Recipe
	set     studio.Set
	pieces  []studio.Swatch
}

func steps(salt, chamber int64) []studio.Step {
	return []studio.Step{
		{Kind: studio.Abrade, Tool: "400 grit", Duration: 90 * time.Second},
		{Kind: studio.Sprinkle, SupplyID: salt, Material: "sodium-chloride", Strength: 100,
			Amount: studio.Amount{Value: 11, SD: 4, Unit: studio.GramPerM2, Hand: studio.Light, Assumed: true}},
		{Kind: studio.Fume, Duration: 4*time.Hour + 30*time.Minute + 250*time.Millisecond, Early: 5 * time.Minute, Late: 20 * time.Minute, ChamberID: chamber, Note: "lid <shut>"},
		{Kind: studio.Rest, Duration: 12 * time.Hour, Place: "bench", Faces: studio.OnFront},
	}
}

func furnish(t testing.TB, s *Store, invented bool) bench {
	t.Helper()
	var b bench
	b.metal = must[studio.Metal](t)(s.SaveMetal(ctx, studio.Metal{Name: "Brass sheet", Alloy: "C26000", ThicknessMM: 0.8, GaugeWords: "20 gauge", Invented: invented}))
	b.salt = must[studio.Supply](t)(s.SaveSupply(ctx, studio.Supply{Name: "Table salt", Material: "sodium-chloride", Strength: 100, StrengthUnit: studio.Pure, Invented: invented}))
	b.chamber = must[studio.Chamber](t)(s.SaveChamber(ctx, studio.Chamber{Name: "Chamber A", VolumeL: 20, PadML: 60, GapMM: 40, Places: 6, Invented: invented}))
	b.recipe = must[studio.Recipe](t)(s.AddRecipe(ctx, studio.Recipe{Name: "Salt and fume", Invented: invented}, studio.Version{Steps: steps(b.salt.ID, b.chamber.ID), Why: "first"}))
	set := studio.Set{Name: "How long", Question: "What do hours buy?", Shape: studio.Ladder, Replicates: 2, Blanks: 1, Seed: 1<<64 - 1,
		MetalID: b.metal.ID, WidthMM: 50, HeightMM: 70, ChamberID: b.chamber.ID, FrontID: b.recipe.Latest.ID, SameFaces: true, Invented: invented,
		Factors: []studio.Factor{{Name: "fuming", Kind: studio.ByMinutes, Step: 2, Levels: []studio.Level{{Label: "2 h", Number: 120}, {Label: "4 h", Number: 240}}}}}
	var pieces []NewSwatch
	for i := range 3 {
		p := NewSwatch{Swatch: studio.Swatch{MetalID: b.metal.ID, WidthMM: 50, HeightMM: 70, Blank: i == 2}}
		if i < 2 {
			p.Treatments = []studio.Treatment{{Faces: studio.OnBoth, Layer: 1, VersionID: b.recipe.Latest.ID, Steps: steps(b.salt.ID, b.chamber.ID), Order: i + 1, Replicate: 1,
				Settings: []studio.Setting{{Factor: "fuming", Kind: studio.ByMinutes, Level: set.Factors[0].Levels[i]}}}}
		}
		pieces = append(pieces, p)
	}
	var err error
	if b.set, b.pieces, err = s.AddSet(ctx, set, pieces); err != nil {
		t.Fatal(err)
	}
	return b
}

// picture returns bytes no other call returns.
func picture(size int) []byte {
	b := make([]byte, size)
	rand.Read(b)
	return b
}

func shot(swatch int64, face studio.Face, moment studio.Moment, taken time.Time) studio.Photo {
	return studio.Photo{Swatch: swatch, Face: face, Moment: moment, Taken: taken, TakenFrom: "photo", Format: "JPEG", Width: 4000, Height: 3000, Camera: "a camera", Profile: "sRGB"}
}

func addPhoto(t testing.TB, s *Store, p studio.Photo) studio.Photo {
	t.Helper()
	kept, existed, err := s.AddPhoto(ctx, p, picture(2000))
	if err != nil || existed {
		t.Fatalf("add photo: existed %v, %v", existed, err)
	}
	return kept
}

func reading(photo int64) studio.Measurement {
	return studio.Measurement{Photo: photo, Method: "mean 1", MMPerPixel: 0.125,
		Correction: &studio.Correction{Target: "24 patches, before November 2014", Method: "tone curve, then 3 x 3", Patches: 24, LOOMean: 3.5, LOOP95: 7.25},
		Texture:    &studio.Texture{PairMM: 0.5, Contrast: 2.5, Homogeneity: 0.5, Entropy: 3, Variance: []studio.ScaleValue{{MM: 1, Value: 12}}, Grain: []studio.ScaleValue{{MM: 1, Value: 0.25}}},
		Pooling:    &studio.Pooling{Of: "coverage", EdgeRatio: 1.5, Offset: 0.125, OffsetDeg: 270, Islands: 12, LargestMM: 8, Clustering: 0.75, BlockMM: 2}, Calibrated: true, Lab: colour.Lab{L: 52.5, A: -12.25, B: 3}, SD: 4.5, Name: "greyish green",
		Marks:    studio.Marks{Corners: &[4]studio.Point{{X: 1, Y: 2}, {X: 3, Y: 4}, {X: 5, Y: 6}, {X: 7, Y: 8}}, Grey: &studio.Rect{X: 1, Y: 2, W: 30, H: 40}, GreyL: 49.5, BareLab: &colour.Lab{L: 70, A: 4, B: 22}, BareOf: "the blank", OnMat: true, Target: "before-2014", Place: "right"},
		Palette:  []studio.PaletteEntry{{Lab: colour.Lab{L: 50, A: -14, B: 2}, Share: 0.75, Name: "green"}, {Lab: colour.Lab{L: 68, A: 4, B: 20}, Share: 0.25, Name: "brass"}},
		Coverage: &studio.Coverage{Value: 0.7, Low: 0.6, High: 0.8, Rule: "ΔE 10", Rules: &studio.ShareRange{Low: 0.625, High: 0.75}, Sampling: &studio.ShareRange{Low: 0.5, High: 0.875}},
		Classes:  []studio.ClassShare{{Name: "bare", Share: 0.25}, {Name: "green", Share: 0.75}}, ClassRule: "by hue", GlareShare: 0.01, Warnings: []string{"a <little> glare"}}
}

// files returns the paths of the photographs' files below photos, stray ones too.
func files(t testing.TB, s *Store) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(s.path("photos"), func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.Contains(path, ".made") {
			name, _ := filepath.Rel(s.path("photos"), path)
			out = append(out, filepath.ToSlash(name))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return !errors.Is(err, fs.ErrNotExist)
}

func treatmentOf(t testing.TB, s *Store, swatch int64) studio.Treatment {
	t.Helper()
	ts := must[[]studio.Treatment](t)(s.Treatments(ctx, TreatmentFilter{Swatch: swatch}))
	if len(ts) == 0 {
		t.Fatalf("swatch %d has no treatment", swatch)
	}
	return ts[0]
}

func began(treatment int64, key string) studio.Event {
	return studio.Event{Treatment: treatment, Client: key, Kind: studio.Began, At: noon.Add(-time.Hour), By: "laptop"}
}

func keys(n int) string { return fmt.Sprintf("key-%d", n) }
