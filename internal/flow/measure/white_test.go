package measure

import (
	"encoding/csv"
	"os"
	"testing"

	"aerugo/internal/science/colour"
)

// Two real photographs of the 24-patch target, its white patch standing for white
// paper and neutral 5 for the grey card (means of 9 x 9 pixels by LittleCMS 2.14;
// the maker's values after November 2014): what white says of the camera's curve
// must bring the other colours nearer on the whole, and harm neither much.
func TestWhitePaperBringsRealPhotographsNearer(t *testing.T) {
	f, err := os.Open("../target/testdata/real_chart_patches.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var want [24]colour.Lab
	for i, row := range table(t, "target24_after_nov2014.csv", true) {
		want[i] = colour.Lab{L: number(t, row[2]), A: number(t, row[3]), B: number(t, row[4])}
	}
	seen := map[string][][3]float64{}
	for _, row := range rows[1:] {
		var v [3]float64
		v[0], v[1], v[2] = colour.DisplayP3.Decode(number(t, row[6])/255, number(t, row[7])/255, number(t, row[8])/255)
		seen[row[0]] = append(seen[row[0]], v)
	}
	const white, grey, colours = 18, 21, 18
	var all [2]float64
	for name, patches := range seen {
		var mean [2]float64
		for way := range mean {
			l := light{space: colour.DisplayP3}
			mid := lightOfL(want[grey].L)
			for c, v := range patches[grey] {
				l.gain[c] = mid / v
			}
			if way == 1 {
				l.bendTo(patches[white], patches[grey], mid)
			}
			for i, v := range patches[:colours] {
				c := l.cell([3]float32{float32(v[0]), float32(v[1]), float32(v[2])})
				mean[way] += colour.Difference(c.lab, want[i]) / colours
			}
			all[way] += mean[way] / float64(len(seen))
		}
		t.Logf("%s: %.2f dE00 with the grey alone, %.2f with the white too", name, mean[0], mean[1])
		if mean[1] > mean[0]+0.3 {
			t.Errorf("%s: %.2f dE00 with the grey alone, %.2f with the white too", name, mean[0], mean[1])
		}
	}
	if !(all[1] < all[0]-0.7) {
		t.Errorf("%.2f dE00 with the grey alone, %.2f with the white too", all[0], all[1])
	}
}
