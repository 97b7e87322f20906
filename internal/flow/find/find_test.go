package find

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"aerugo/internal/science/colour"
	"aerugo/internal/studio"
)

func TestOneBoxIsTakenApart(t *testing.T) {
	for text, want := range map[string]Query{
		"14":                            {Number: 14},
		" #14 ":                         {Number: 14},
		"14 back":                       {Number: 14, Face: studio.Back},
		"14F":                           {Number: 14, Face: studio.Front},
		"swatch 7":                      {Number: 7},
		"like 14 back":                  {Number: 14, Face: studio.Back, Like: true},
		"S3-14":                         {Set: 3, Number: 14},
		studio.Code(42, studio.Back):    {Number: 42, Face: studio.Back},
		studio.PlaceCode(2):             {Place: 2},
		"salt, vinegar":                 {Words: []string{"salt", "vinegar"}},
		"blue salt":                     {Words: []string{"blue", "salt"}},
		"Blue-green matte half covered": {Look: &Look{Lab: NamedLooks[0].Lab, From: "blue-green", Covered: "half covered", Shine: "matte"}},
		"red-brown":                     {Look: &Look{Lab: colour.Lab{L: 38, A: 26, B: 22}, From: "red-brown"}},
		"L 50 a −20 b 5.5":              {Look: &Look{Lab: colour.Lab{L: 50, A: -20, B: 5.5}, From: "L* 50, a* -20, b* 5.5"}},
		"50, -20, -5":                   {Look: &Look{Lab: colour.Lab{L: 50, A: -20, B: -5}, From: "L* 50, a* -20, b* -5"}},
		"":                              {},
	} {
		got, err := Read(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%q is read otherwise (-want +got):\n%s", text, d)
		}
	}
	for _, bad := range []string{"S0042FZ", "p0002z"} {
		if _, err := Read(bad); studio.ProblemIn(err) == nil {
			t.Errorf("%q, a misread label, gives %v", bad, err)
		}
	}
}

// IEC 61966-2-1 sRGB white and red in CIELAB of D50, by Bruce Lindbloom's calculator
// (brucelindbloom.com, CIE Color Calculator, Bradford), from memory: red is
// 54.29, 80.81, 69.89.
func TestSRGBNumbersBecomeLab(t *testing.T) {
	for text, want := range map[string]colour.Lab{"#ffffff": {L: 100}, "rgb(255, 0, 0)": {L: 54.29, A: 80.81, B: 69.89}} {
		q, err := Read(text)
		if err != nil || q.Look == nil {
			t.Fatalf("%q: %+v, %v", text, q, err)
		}
		if d := colour.Difference76(q.Look.Lab, want); d > 0.1 {
			t.Errorf("%q is %+v, want %+v", text, q.Look.Lab, want)
		}
	}
}

func TestNamedLooksAreOfTheirName(t *testing.T) {
	// Names by the ISCC-NBS centroids (Kelly and Judd 1976), as package colour has them.
	for _, n := range NamedLooks {
		word := map[string]string{"turquoise": "blue", "pale green": "green", "blue-green": "green", "red-brown": "brown", "golden": "yellow", "copper": "orange"}[n.Name]
		if word == "" {
			word = n.Name
		}
		if word == "grey" {
			word = "gray"
		}
		name := colour.Name(n.Lab)
		if !strings.Contains(strings.ReplaceAll(name, "grey", "gray"), word) && !strings.Contains(name, strings.ReplaceAll(word, "blue", "bluish")) {
			t.Errorf("%s is looked for by %v, which is called %s", n.Name, n.Lab, name)
		}
	}
}

func TestNearestLookComesFirst(t *testing.T) {
	lab := colour.Lab{L: 50, A: -20, B: 0}
	faces := []Face{
		{Swatch: 1, Face: studio.Front, Lab: colour.Lab{L: 30, A: 20, B: 20}, Coverage: 0.5},
		{Swatch: 2, Face: studio.Back, Lab: lab, Coverage: 0.9},
		{Swatch: 3, Face: studio.Front, Lab: colour.Lab{L: 52, A: -20, B: 1}, Coverage: 0.5},
		{Swatch: 4, Face: studio.Front, Lab: colour.Lab{L: 52, A: -20, B: 1}, Coverage: -1},
	}
	order := func(hits []Hit) (out []int64) {
		for _, h := range hits {
			out = append(out, h.Swatch)
		}
		return out
	}
	if got := order(Looks(faces, Look{Lab: lab}, 9)); !slices.Equal(got, []int64{2, 3, 4, 1}) {
		t.Errorf("by colour alone: %v", got)
	}
	half := Looks(faces, Look{Lab: lab, Covered: "half covered"}, 3)
	if got := order(half); !slices.Equal(got, []int64{3, 4, 2}) {
		t.Errorf("half covered: %v", got)
	}
	if !strings.Contains(half[2].Why, "but it is covered") || !strings.Contains(half[1].Why, "not known") {
		t.Errorf("it says %q and %q", half[1].Why, half[2].Why)
	}
	// Sharma, Wu and Dalal 2005, pair 1: ΔE00 2.0425.
	pair := Looks([]Face{{Swatch: 1, Lab: colour.Lab{L: 50, A: 2.6772, B: -79.7751}}}, Look{Lab: colour.Lab{L: 50, A: 0, B: -82.7485}}, 1)
	if d := pair[0].Distance; d < 2.0424 || d > 2.0426 {
		t.Errorf("the distance is %v, want 2.0425", d)
	}
}

func TestEveryWordMustStandThere(t *testing.T) {
	entries := []Entry{
		{Swatch: 3, Fields: []Field{{"recipe", "Salt and fumes"}, {"metal", "Brass"}}},
		{Swatch: 2, Fields: []Field{{"note", "unsalted, brassy"}}},
		{Swatch: 1, Fields: []Field{{"recipe", "Vinegar"}, {"place", "brass box"}}},
	}
	got := Words(entries, []string{"SALT", "brass"})
	if len(got) != 2 || got[0].Swatch != 3 || got[0].Why != "in its recipe, metal" || got[1].Swatch != 2 {
		t.Errorf("found %+v", got)
	}
	if got := Words(entries, []string{"copper"}); len(got) != 0 {
		t.Errorf("found %+v", got)
	}
}

var studioDay = time.Date(2026, 11, 25, 15, 0, 0, 0, time.UTC)

func sampleMap() *Map {
	places := []studio.Place{
		{ID: 1, Name: "Cabinet", Kind: studio.Keeps}, {ID: 2, Name: "drawer 2", Parent: 1, Kind: studio.Keeps, Rows: 3, Columns: 4},
		{ID: 3, Name: "lent to Ana", Kind: studio.Lent}, {ID: 4, Name: "given away", Kind: studio.Gone}, {ID: 5, Name: "old box", Kind: studio.Keeps, Closed: studioDay},
		{ID: 6, Name: "tray", Parent: 5, Kind: studio.Keeps},
	}
	where := map[int64]studio.SwatchMove{}
	for _, m := range []studio.SwatchMove{{Swatch: 13, Place: 2, Row: 3, Column: 1}, {Swatch: 14, Place: 2, Row: 3, Column: 2}, {Swatch: 15, Place: 2, Row: 3, Column: 3}, {Swatch: 16, Place: 2, Row: 1, Column: 3},
		{Swatch: 20, Place: 1}, {Swatch: 21, Place: 1}, {Swatch: 30, Place: 3, Due: studioDay.AddDate(0, 0, -3)}, {Swatch: 31, Place: 3}, {Swatch: 32, Place: 3, Due: studioDay.AddDate(0, 0, 8)}, {Swatch: 40, Place: 4, At: studioDay}} {
		where[m.Swatch] = m
	}
	return NewMap(places, where)
}

func TestWhereIsItOnOneLineWithNeighbours(t *testing.T) {
	m := sampleMap()
	for n, want := range map[int64]string{
		14: "Cabinet, drawer 2, cell C2; left of it 13, right of it 15.",
		13: "Cabinet, drawer 2, cell C1; right of it 14.",
		15: "Cabinet, drawer 2, cell C3; left of it 14.",
		16: "Cabinet, drawer 2, cell A3.",
		20: "Cabinet, with 21.",
		30: "lent to Ana, to be back on 22 November 2026.",
		31: "lent to Ana, without a day to be back.",
	} {
		if got, ok := m.Where(n); !ok || got != want {
			t.Errorf("%d is said to be in %q, want %q", n, got, want)
		}
	}
	if got, ok := m.Where(99); ok {
		t.Errorf("99, of which nobody said, is in %q", got)
	}
	if row, column := m.Free(2); row != 1 || column != 1 {
		t.Errorf("the next free cell is %s", studio.Cell(row, column))
	}
}

func TestTreeLoansAndRounds(t *testing.T) {
	m := sampleMap()
	var tree []string
	for _, b := range m.Tree() {
		tree = append(tree, fmt.Sprintf("%d %s %d/%d", b.Depth, b.Name, b.Own, b.Total))
	}
	if want := []string{"0 Cabinet 2/6", "1 drawer 2 4/4", "0 lent to Ana 3/3", "0 given away 1/1", "0 tray 0/0"}; !slices.Equal(tree, want) {
		t.Errorf("the tree is %q, want %q", tree, want)
	}
	var loans []string
	for _, l := range m.Loans(studioDay) {
		loans = append(loans, fmt.Sprintf("%d %s", l.Swatch, l.Words()))
	}
	if want := []string{"30 overdue by 3 days", "32 to be back in 8 days", "31 no day to be back"}; !slices.Equal(loans, want) {
		t.Errorf("the loans are %q, want %q", loans, want)
	}
	got := m.Through(1, []int64{14, 20, 30, 30})
	if want := (LookThrough{Found: []int64{14, 20}, Missing: []int64{13, 15, 16, 21}, Strange: []int64{30}}); !cmp.Equal(got, want) {
		t.Errorf("the round found %+v, want %+v", got, want)
	}
}

// A round loses nothing: what should be there is either found or missing, and what was
// seen is either found or strange.
func TestRoundLosesNothing(t *testing.T) {
	m := sampleMap()
	rapid.Check(t, func(rt *rapid.T) {
		seen := rapid.SliceOf(rapid.Int64Range(10, 45)).Draw(rt, "seen")
		place := rapid.SampledFrom([]int64{1, 2, 3, 6}).Draw(rt, "place")
		got := m.Through(place, seen)
		should := 0
		for _, id := range m.Under(place) {
			should += len(m.In(id))
		}
		if len(got.Found)+len(got.Missing) != should {
			rt.Fatalf("%d found and %d missing of %d", len(got.Found), len(got.Missing), should)
		}
		for _, n := range seen {
			if slices.Contains(got.Found, n) == slices.Contains(got.Strange, n) {
				rt.Fatalf("%d was seen and is in both lists or none: %+v", n, got)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, text := range []string{"14 back", "S3-14", "50, -20, -5", "#2f6f60", "blue-green, matte", studio.Code(9, studio.Front)} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, err := Read(text)
		if err != nil && studio.ProblemIn(err) == nil {
			t.Errorf("%q: %v", text, err)
		}
		if q.Number < 0 || q.Place < 0 || q.Look != nil && (q.Look.Lab.L < 0 || q.Look.Lab.L > 100.01) {
			t.Errorf("%q is read as %+v", text, q)
		}
	})
}

func many(n int) ([]Entry, []Face) {
	rng := rand.New(rand.NewPCG(1, 2))
	var entries []Entry
	var faces []Face
	for i := range n {
		entries = append(entries, Entry{Swatch: int64(i + 1), Fields: []Field{{"recipe", "Salt and fumes, overnight"}, {"metal", "Brass C26000, 0.8 mm"}, {"set", "How long does it take"}, {"note", "a drop ran over the edge"}, {"place", "Cabinet by the door, drawer 2"}}})
		for _, face := range studio.BothFaces {
			faces = append(faces, Face{Swatch: int64(i + 1), Face: face, Lab: colour.Lab{L: 100 * rng.Float64(), A: 60*rng.Float64() - 30, B: 60*rng.Float64() - 30}, Coverage: rng.Float64()})
		}
	}
	return entries, faces
}

func BenchmarkWordsIn2000(b *testing.B) {
	entries, _ := many(2000)
	for b.Loop() {
		Words(entries, []string{"salt", "drawer"})
	}
}

func BenchmarkLooksIn2000(b *testing.B) {
	_, faces := many(2000)
	for b.Loop() {
		Looks(faces, Look{Lab: colour.Lab{L: 50, A: -20}, Covered: "half covered"}, 24)
	}
}
