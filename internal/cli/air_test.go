package cli

import (
	"encoding/json"
	"math"
	"testing"

	"aerugo/internal/studio"
)

// FuzzReleases: whatever --openings says, there is one release or more at times
// that can be, or a Problem.
func FuzzReleases(f *testing.F) {
	for _, seed := range []string{"0", "0,60,120", "0:7.3, 60:5", "", ",", "1e9", "-1", "0:NaN", "0:", "x", "0:1:2"} {
		f.Add(seed, 0.0)
	}
	f.Add("0", math.NaN())
	f.Fuzz(func(t *testing.T, openings string, over float64) {
		got, err := airVerb{NH3G: 1, RoomM3: 30, Openings: openings, OverMin: over}.releases()
		if err != nil {
			if studio.ProblemIn(err) == nil {
				t.Fatalf("%v is no Problem", err)
			}
			return
		}
		if len(got) == 0 {
			t.Fatal("no opening and no Problem")
		}
		for _, e := range got {
			if e.At < 0 || e.Over < 0 || math.IsNaN(e.Grams) {
				t.Fatalf("%+v", e)
			}
		}
	})
}

// Worked by hand at 20 °C: 1 g is 14.12 ppm in 100 m3 (24.055 L a mole); K makes
// clearing so many times longer (CDC, MMWR 1994;43(RR-13)).
func TestAirScalesAsTheBoxSays(t *testing.T) {
	ask := func(args ...string) airFound {
		out, errs, status := at(append([]string{"air", "--json"}, args...)...)
		var f airFound
		if err := json.Unmarshal([]byte(out), &f); err != nil || status != exitFine {
			t.Fatalf("status %d, %v: %s", status, err, errs)
		}
		return f
	}
	one := ask("--nh3-g", "10", "--room-m3", "100", "--ach", "2", "--mixing", "1")
	if math.Abs(one.PeakPPM-141.2) > 0.2 || math.Abs(one.NeededM3-403.6) > 1 {
		t.Errorf("peak %v ppm, room for 35 ppm %v m3", one.PeakPPM, one.NeededM3)
	}
	three := ask("--nh3-g", "10", "--room-m3", "100", "--ach", "2", "--mixing", "3")
	if math.Abs(*three.MinutesTo25 / *one.MinutesTo25 - 3) > 1e-3 {
		t.Errorf("K 3 takes %v min, K 1 %v", *three.MinutesTo25, *one.MinutesTo25)
	}
	if lo, hi := *three.MinutesRange[0], *three.MinutesRange[1]; !(lo < *three.MinutesTo25 && *three.MinutesTo25 < hi) {
		t.Errorf("%v to %v does not hold %v", lo, hi, *three.MinutesTo25)
	}
	guess := ask("--nh3-g", "10", "--room-m3", "100")
	if len(guess.Assumed) != 3 || guess.ACH != shutWindows || guess.Mixing != commonMixing {
		t.Errorf("%+v", guess)
	}
}
