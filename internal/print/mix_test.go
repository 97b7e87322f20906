package print

import (
	"bytes"
	"strings"
	"testing"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// sampleMix lets a strong ammonia down to 10 %: 1 L of 957.5 g is 341.96 g (380.8
// mL) of 28 % and 615.5 g of water, by the CRC table of densities of ammonia water
// at 20 °C (897.9 and 957.5 kg/m3).
func sampleMix(t testing.TB) Mix {
	t.Helper()
	mix, err := matter.MixML("ammonia-water", 0.28, 0.10, 1000)
	if err != nil {
		t.Fatal(err)
	}
	use := matter.Use{Key: "ammonia-water", WtPercent: 28, Step: 1}
	band, err := matter.At("ammonia-water", 28)
	if err != nil {
		t.Fatal(err)
	}
	return Mix{Date: sampleDay, Studio: "The Yard", Name: "ammonia water 10 %", Stock: "Strong ammonia: ammonia water of 28 %, lot 12B", Mix: mix, Volumes: "Volumes do not add up: 380.8 mL and 616.6 mL make 1000.0 mL, not 997.5 mL.", Low: 0.0964, High: 0.1036,
		Order:    []string{"Outdoors or under a hood, goggles and gloves on.", "Weigh 615.5 g of water into the empty jar.", "Pour in 342.0 g of ammonia: ammonia into water, slowly."},
		Cautions: matter.Cautions([]matter.Use{use}, "copper"), Measures: band.Measures(), Uses: []matter.Use{use}, Label: []string{"Ammonia water 10 %", "burns skin and eyes."}}
}

func extremeMix(t testing.TB) Mix {
	m := sampleMix(t)
	long := strings.Repeat("Très longue série d'essais à l'ammoniaque ", 6)
	m.Name, m.Stock, m.Faces, m.Studio, m.Assumed = long, long, long, long, long
	m.Label = []string{strings.Repeat("X", 200), long, long}
	for range 20 {
		m.Order = append(m.Order, long)
	}
	m.Mix.TotalG = 123456789
	return m
}

func TestMixCardSaysWhatToWeighAndInWhichOrder(t *testing.T) {
	c, err := drawMix(nil, sampleMix(t))
	pages := pagesOf(t, c, err)
	if len(pages) != 1 {
		t.Fatalf("%d pages", len(pages))
	}
	all := pages[0].all()
	for _, want := range []string{"342.0 g", "615.5 g", "957.5 g", "about 381 mL at 20 °C", "Weighing is right. Volumes do not add up: 380.8 mL", "make 1000.0 mL, not 997.5 mL", "ammonia into water", "Jar, empty",
		"9.64 to 10.4 %", "Gloves:", "First aid:", "from memory", "Ammonia water 10 %", "Not food or drink", "The Yard", "2 March 2026"} {
		if !strings.Contains(all, want) {
			t.Errorf("the card does not say %q: %s", want, all)
		}
	}
	if water, ammonia := strings.Index(all, "615.5 g of water"), strings.Index(all, "342.0 g of ammonia"); water < 0 || ammonia < water {
		t.Errorf("water stands at %d, ammonia at %d", water, ammonia)
	}
}

func TestMixThatSpitsIsNotPrinted(t *testing.T) {
	m := sampleMix(t)
	m.Uses = []matter.Use{{Key: "sulfuric-acid", WtPercent: 96, Step: 1}}
	var buf bytes.Buffer
	err := MixCard(&buf, m)
	p := studio.ProblemIn(err)
	if p == nil || p.Kind != studio.Unsafe || buf.Len() > 0 {
		t.Errorf("got %v and %d bytes", err, buf.Len())
	}
}

// A stop is printed on no sheet of a set, whoever asks for it.
func TestStopIsOnNoSheetOfASet(t *testing.T) {
	clash := matter.Meet([]matter.Use{{Key: "ammonia-water", WtPercent: 5}, {Key: "bleach"}})
	if len(clash) == 0 || clash[0].Level != matter.Stop {
		t.Fatalf("ammonia and bleach give %v", clash)
	}
	sheet := sampleSheet(2)
	sheet.Clashes = clash
	for what, write := range map[string]func(*bytes.Buffer) error{
		"bench sheet": func(b *bytes.Buffer) error { return BenchSheet(b, sheet) },
		"labels": func(b *bytes.Buffer) error {
			return Labels(b, sampleLabels(1), LabelSheet{Date: sampleDay, Clashes: clash})
		},
	} {
		var buf bytes.Buffer
		p := studio.ProblemIn(write(&buf))
		if p == nil || p.Kind != studio.Unsafe || buf.Len() > 0 || !strings.Contains(p.Text, "hloramine") || !strings.Contains(p.Text, clash[0].Instead) {
			t.Errorf("%s: %v", what, p)
		}
	}
}

func TestBenchSheetSaysWhereAndWhatToMind(t *testing.T) {
	sheet := sampleSheet(2)
	sheet.Place = "Yard, outdoors, for a class of adults"
	sheet.Clashes = matter.Meet([]matter.Use{{Key: "ammonia-water", WtPercent: 5}, {Key: "vinegar", WtPercent: 5}})
	if len(sheet.Clashes) == 0 {
		t.Fatal("ammonia and vinegar are no longer a caution")
	}
	pages := benchPages(t, sheet)
	for _, want := range []string{"Where and for whom: Yard, outdoors, for a class of adults.", "white ammonium-salt fog"} {
		if !strings.Contains(pages[0].all(), want) {
			t.Errorf("the sheet does not say %q: %s", want, pages[0].all()[:900])
		}
	}
	for range 20 {
		sheet.Clashes = append(sheet.Clashes, sheet.Clashes[0])
	}
	if all := benchPages(t, sheet)[0].all(); !strings.Contains(all, "more to mind") {
		t.Error("what has no room is not counted")
	}
}
