package cost

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"aerugo/internal/flow/run"
	"aerugo/internal/science"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

var day = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func at(h int) time.Time { return day.Add(time.Duration(h) * time.Hour) }

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9*max(1, math.Abs(want)) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// A shelf sheet by hand: 500 g bought, 20 g used, the bench took 11 g; counted
// 460 g; bought 250 g of another lot; the bench took 470 g: 460 of the first lot,
// 10 of the second; 5 g thrown away of the second: 235 g left.
func TestStockByHand(t *testing.T) {
	moves := []studio.StockMove{
		{ID: 1, Kind: studio.Bought, Amount: 500, Unit: studio.Gram, Lot: "A", At: at(0)},
		{ID: 2, Kind: studio.UsedUp, Amount: 20, Unit: studio.Gram, Lot: "A", At: at(1)},
		{ID: 3, Kind: studio.Bought, Amount: 9000, Unit: studio.Gram, Lot: "A", At: at(1)},
		{ID: 4, Kind: studio.Uncounted, Corrects: 3, At: at(1)},
		{ID: 5, Kind: studio.Counted, Amount: 460, Unit: studio.Gram, Lot: "A", At: at(4)},
		{ID: 6, Kind: studio.Bought, Amount: 250, Unit: studio.Gram, Lot: "B", At: at(5)},
		{ID: 7, Kind: studio.ThrownOut, Amount: 5, Unit: studio.Gram, Lot: "B", At: at(8)},
	}
	uses := []Use{{At: at(-1), G: 99}, {At: at(3), G: 11}, {At: at(6), G: 470}}
	s := StockOf(moves, uses, 1)
	near(t, "stock", s.G, 235)
	near(t, "lot A", s.Lots[0].G, 0)
	near(t, "lot B", s.Lots[1].G, 235)
	near(t, "taken by the bench since", s.Bench, 470)
	if !s.Known || s.Doubt != "" || !s.Since.Equal(at(4)) {
		t.Errorf("%+v", s)
	}
	if s := StockOf(moves, append(uses, Use{At: at(9), G: 300}), 1); s.Doubt == "" || s.G > 0 {
		t.Errorf("more was taken than was there: %+v", s)
	}
	if s := StockOf(nil, uses, 1); s.Known || s.G != 0 {
		t.Errorf("nobody counted, and there is %+v", s)
	}
	ml := StockOf([]studio.StockMove{{ID: 1, Kind: studio.Bought, Amount: 1000, Unit: studio.Millilitre, At: at(0)}}, nil, 0.9)
	near(t, "a litre of 0.9 g/mL", ml.G, 900)
	near(t, "in mL", ml.In(studio.Millilitre, 0.9), 1000)
}

func TestOrderOfRecordsMakesNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var moves []studio.StockMove
		var uses []Use
		sum := 0.0
		for i := range rapid.IntRange(1, 12).Draw(t, "moves") {
			m := studio.StockMove{ID: int64(i + 1), Kind: rapid.SampledFrom([]studio.MoveKind{studio.Bought, studio.UsedUp, studio.ThrownOut}).Draw(t, "kind"), Unit: studio.Gram,
				Amount: float64(rapid.IntRange(1, 1000).Draw(t, "amount")), Lot: rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "lot"), At: at(rapid.IntRange(0, 6).Draw(t, "at"))}
			moves = append(moves, m)
			if m.Kind == studio.Bought {
				sum += m.Amount
			} else {
				sum -= m.Amount
			}
		}
		for range rapid.IntRange(0, 6).Draw(t, "uses") {
			u := Use{At: at(7 + rapid.IntRange(0, 6).Draw(t, "used at")), G: float64(rapid.IntRange(1, 50).Draw(t, "g"))}
			uses = append(uses, u)
			sum -= u.G
		}
		one := StockOf(moves, uses, 1)
		if math.Abs(one.G-sum) > 1e-6 {
			t.Fatalf("there is %v, want %v", one.G, sum)
		}
		other := StockOf(rapid.Permutation(moves).Draw(t, "shuffled"), rapid.Permutation(uses).Draw(t, "uses shuffled"), 1)
		if math.Abs(other.G-one.G) > 1e-6 || !other.Since.Equal(one.Since) {
			t.Fatalf("%+v shuffled is %+v", one, other)
		}
	})
}

// Whole packs: 1300 g needed and 200 g to keep, 900 g there: 600 g short, two
// packs of 500 g at 4.20: 8.40.
func TestShoppingIsInWholePacks(t *testing.T) {
	pack := &studio.PackPrice{Size: 500, Unit: studio.Gram, Price: d("4.20"), Grade: "technical", Keep: 200}
	list, sum := Shop([]Want{
		{Name: "Salt", Need: Need{G: 1300}, Stock: Stock{Known: true, G: 900}, Pack: pack},
		{Name: "Enough", Need: Need{G: 100}, Stock: Stock{Known: true, G: 300}, Pack: pack},
		{Name: "Just enough", Need: Need{G: 0.1 + 0.2}, Stock: Stock{Known: true, G: 200 + 0.3}, Pack: pack},
		{Name: "Never counted", Need: Need{G: 300}, Pack: pack},
		{Name: "No pack", Need: Need{G: 3}},
	})
	if len(list) != 3 || !sum.Equal(d("12.60")) {
		t.Fatalf("%+v, %s", list, sum)
	}
	if b := list[0]; b.Packs != 2 || !b.Cost.Equal(d("8.40")) || b.Short != 600 || b.Grade != "technical" {
		t.Errorf("%+v", b)
	}
	if b := list[1]; b.Packs != 1 || len(b.Why) == 0 {
		t.Errorf("%+v", b)
	}
	if b := list[2]; b.Packs != 0 || len(b.Why) != 2 {
		t.Errorf("%+v", b)
	}
}

// Perry's Chemical Engineers' Handbook, partial pressure of ammonia over water
// at 20 °C: 69.6 mmHg for 10 g in 100 g of water (from memory). That is 0.0648
// kg/m³ of air over 0.0909 x 961 = 87.4 kg/m³ of liquid: 0.074 % at an opening,
// so ten openings a month leave 0.9926 of it after 30 days.
func TestAmmoniaAgesByTheAirOverIt(t *testing.T) {
	likely, low, high, err := Aged(10.0/110, 30)
	if err != nil || math.Abs(likely/(10.0/110)-0.9926) > 0.0003 || !(low < likely && likely < high) {
		t.Errorf("%v, %v to %v, %v", likely, low, high, err)
	}
	if now, _, _, err := Aged(0.1, 0); err != nil || now != 0.1 {
		t.Errorf("a bottle just opened has %v, %v", now, err)
	}
	for _, x := range [][2]float64{{0, 1}, {0.31, 1}, {0.1, -1}, {0.1, 4000}, {math.NaN(), 1}} {
		var r *science.RangeError
		if _, _, _, err := Aged(x[0], x[1]); !errors.As(err, &r) {
			t.Errorf("%v: %v", x, err)
		}
	}
}

var shelf = Shelf{
	Supplies: []studio.Supply{
		{ID: 1, Name: "Salt", Material: "sodium-chloride", StrengthUnit: studio.Pure},
		{ID: 2, Name: "Strong ammonia", Material: "ammonia-water", Strength: 28, StrengthUnit: studio.WtPercent},
	},
	Chambers: []studio.Chamber{{ID: 1, Name: "Box", Places: 4, PadML: 100}},
}

func treatment(id int64, block int) studio.Treatment {
	return studio.Treatment{ID: id, Swatch: id, Faces: studio.OnBoth, Layer: 1, VersionID: 3, Block: block, Steps: []studio.Step{
		{Kind: studio.Sprinkle, SupplyID: 1, Amount: studio.Amount{Value: 25, Unit: studio.GramPerM2}, Duration: 2 * time.Minute},
		{Kind: studio.Fume, ChamberID: 1, Material: "ammonia-water", Strength: 10, SupplyID: 2, Duration: 4 * time.Hour},
		{Kind: studio.BrushOut, Duration: 3 * time.Minute},
	}}
}

// Six swatches of 50 x 70 mm, both faces: 6 x 0.007 m² x 25 g/m² = 1.05 g of salt.
// Four places, so two fillings of 100 mL of 10 % ammonia from a bottle of 28 %: as
// much as matter's own mixing, which is held against the CRC table there.
func TestNeedsByHand(t *testing.T) {
	var ts []studio.Treatment
	swatches := map[int64]studio.Swatch{}
	for i := range int64(6) {
		ts = append(ts, treatment(i+1, 0))
		swatches[i+1] = studio.Swatch{Number: i + 1, WidthMM: 50, HeightMM: 70}
	}
	got := shelf.Needs(ts, swatches)
	if len(got) != 2 || got[0].Supply != 1 || got[1].Supply != 2 {
		t.Fatalf("%+v", got)
	}
	near(t, "salt", got[0].G, 1.05)
	mix, err := matter.MixML("ammonia-water", 0.28, 0.10, 200)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "ammonia", got[1].G, mix.StockG)
	near(t, "ammonia in mL", got[1].In(studio.Millilitre), mix.StockML)
	if f := shelf.Fillings(ts); len(f) != 2 || f[0].Places != 4 || f[1].Places != 2 || !f[0].Assumed {
		t.Errorf("%+v", f)
	}
	for i := range ts {
		ts[i].Block = 1
	}
	if f := shelf.Fillings(ts); len(f) != 1 || f[0].Assumed {
		t.Errorf("one block is %+v", f)
	}
	bare := Shelf{Supplies: shelf.Supplies, Chambers: []studio.Chamber{{ID: 1, Places: 4}}}
	if n := bare.Needs(ts, swatches); len(n) != 2 || n[1].G != 0 || n[1].From != Assumed || len(n[1].Doubts) != 1 {
		t.Errorf("a pad of unknown size takes %+v", n)
	}
	// a piece: its outside 120 cm², its inside 115 cm²
	lamp := map[int64]studio.Swatch{1: {Number: 1, WidthMM: 180, HeightMM: 180, OutsideMM2: 12000, InsideMM2: 11500}}
	near(t, "salt on a lamp", shelf.Needs(ts[:1], lamp)[0].G, 25*0.0235)
}

func entry(id int64, begin int, minutes ...int) run.Entry {
	e := run.Entry{Treatment: treatment(id, 1), Swatch: studio.Swatch{Number: id, WidthMM: 50, HeightMM: 70}, Record: run.Record{Status: run.Finished}}
	now := at(begin)
	for i, m := range minutes {
		till := now.Add(time.Duration(m) * time.Minute)
		e.Record.Steps = append(e.Record.Steps, run.StepRecord{State: run.Done, Began: now, Ended: till, Amount: e.Treatment.Steps[i].Amount})
		now = till
	}
	return e
}

// By hand: 4 + 6 = 10 min; 5 + 7 = 12 min. Two pieces, one sprinkled from 9:00 to
// 9:16, the other from 9:08 to 9:24: 8 min alone and half of the 8 in which both
// were under way, 12 each; brushed out in the same 8 min: 4 each; 16 each. Median of
// 10, 12, 16 and 16 is 14.
func TestHandsAreTheMedianOfTheRecords(t *testing.T) {
	one, two := entry(1, 0, 4, 240, 6), entry(2, 10, 5, 240, 7)
	three, four := entry(3, 20, 16, 240, 8), entry(4, 20, 16, 240, 8)
	four.Record.Steps[0].Began = four.Record.Steps[0].Began.Add(8 * time.Minute)
	four.Record.Steps[0].Ended = four.Record.Steps[0].Ended.Add(8 * time.Minute)
	all := map[int64][]run.Entry{3: {one, two, three, four}}
	h := HandsOf([]studio.Treatment{treatment(9, 1)}, 1, all, nil)
	if h.From != Recorded || h.N != 4 {
		t.Errorf("%+v", h)
	}
	near(t, "median", h.Minutes, 14)
	near(t, "least", h.Low, 10)
	near(t, "most", h.High, 16)
	// a new version of the recipe has no record of its own
	fresh := treatment(9, 1)
	fresh.VersionID = 7
	h = HandsOf([]studio.Treatment{fresh}, 1, all, map[int64][]int64{7: {2, 3}})
	if h.From != Recorded || h.N != 4 || !strings.Contains(h.Why, "other versions") {
		t.Errorf("%+v", h)
	}
	near(t, "median of another version", h.Minutes, 14)
	h = HandsOf([]studio.Treatment{treatment(8, 1), treatment(9, 1)}, 2, nil, nil)
	if h.From != Assumed {
		t.Errorf("%+v", h)
	}
	near(t, "planned", h.Minutes, 5)
}

func TestYieldCountsPieces(t *testing.T) {
	lost := entry(3, 0)
	lost.Record.Status = run.Stopped
	open := entry(4, 0)
	open.Record.Status = run.Running
	back := entry(3, 0, 1, 1, 1) // the other face of the lost piece
	if good, made := CountYield([]run.Entry{entry(1, 0), entry(2, 0), lost, open, back}, nil); good != 2 || made != 3 {
		t.Errorf("%d good of %d", good, made)
	}
	// of the two finished one was rejected and one is reworked; the one given up was
	// accepted after all
	said := map[int64]studio.Verdict{1: {Outcome: studio.Rejected}, 2: {Outcome: studio.Reworked}, 3: {Outcome: studio.Accepted}}
	if good, made := CountYield([]run.Entry{entry(1, 0), entry(2, 0), lost, open, back}, said); good != 1 || made != 2 {
		t.Errorf("judged, %d good of %d", good, made)
	}
}

func TestBenchUseIsWhatWasConfirmed(t *testing.T) {
	e := entry(1, 0, 2, 240)
	e.Record.Steps[0].Amount = studio.Amount{Value: 30, Unit: studio.GramPerM2}
	logs := []studio.ChamberLog{
		{ID: 1, Kind: studio.PadCharged, At: at(1), SupplyID: 2, SolutionG: 90},
		{ID: 2, Kind: studio.PadCharged, At: at(2), SupplyID: 2, SolutionG: 95},
		{ID: 3, Kind: studio.TakenBack, Corrects: 2, At: at(3)},
	}
	got := shelf.BenchUses([]run.Entry{e}, logs)
	if len(got) != 2 || got[0].Supply != 1 || got[1].Supply != 2 {
		t.Fatalf("%+v", got)
	}
	near(t, "salt", got[0].G, 30*0.007)
	near(t, "pad", got[1].G, 90)
}
