package web

import (
	"strings"
	"testing"

	"aerugo/internal/flow/learn"
	"aerugo/internal/flow/plan"
)

// What a person reads first says how clearly a difference is seen; its number stands
// apart and is the same number.
func TestBoundsAreSaidInWords(t *testing.T) {
	for _, c := range []struct{ text, words, number string }{
		{"Can't tell from these swatches what wetting does: it may do nothing, or as much as ΔE00 18.3.", "Can't tell from these swatches what wetting does: it may do nothing, or make a difference seen at once.", "at most ΔE00 18.3"},
		{"Salt makes no difference we can see: if there is one, it is smaller than ΔE00 1.4 and 3.0 points of coverage.", "Salt makes no difference we can see: if there is one, it is hardly seen, and smaller than 3.0 points of coverage.", "at most ΔE00 1.4"},
		{"Salt makes no difference we can see: if there is one, it is smaller than ΔE00 0.8.", "Salt makes no difference we can see: if there is one, it is not seen.", "at most ΔE00 0.8"},
		{"Wetting covers more of the face.", "Wetting covers more of the face.", ""},
	} {
		if words, number := plainBound(c.text); words != c.words || number != c.number {
			t.Errorf("%q is said as %q, %q", c.text, words, number)
		}
	}
	claim := learn.Claim{Words: "Vinegar rather than water adds blue: b* 16 lower, between 10 and 23.", DE: 3, Standing: learn.Shown, Aspect: learn.OfColour}
	v := viewClaims(1, []learn.Claim{claim})[0]
	if v.Plain != "Vinegar rather than water adds blue: a difference seen side by side." || v.Numbers != "b* 16 lower, between 10 and 23" {
		t.Errorf("%q, %q", v.Plain, v.Numbers)
	}
}

// A set that can't show the difference wanted says what it does show, larger than that.
func TestAVerdictNamesWhatShows(t *testing.T) {
	v := worthView{Wanted: 3, Worth: plan.Worth{Shows: []plan.Shown{{Factor: "salt", Least: 2, Enough: true}, {Factor: "wetting", Least: 4}, {Factor: "hours", Least: 4.4}}}}
	if got := v.LeastShort(); got != "a larger one" {
		t.Errorf("beside 3, 4 to 4.4 is %q", got)
	}
	v.Wanted = 1.5
	if got := v.LeastShort(); got != "one seen side by side" {
		t.Errorf("beside 1.5, 4 to 4.4 is %q", got)
	}
	v.Shows[2].Least = 9
	if got := v.LeastShort(); got != "one seen side by side or one seen at once" || !strings.HasPrefix(v.LeastNumbers(), "4.0 to 9.0") && !strings.HasPrefix(v.LeastNumbers(), "4 to 9") {
		t.Errorf("%q, %q", got, v.LeastNumbers())
	}
	if got := listed([]string{"salt", "wetting", "hours"}, "or"); got != "salt, wetting or hours" {
		t.Error(got)
	}
}

// What a single thing does comes before what two do together.
func TestSingleThingsAreSaidFirst(t *testing.T) {
	if pairsIn("What salt and wetting do together can't be told from what hours and drying do together.") != 1 || pairsIn("What salt does can't be told from what wetting and hours do together.") != 0 {
		t.Error("a pair passes for a single thing, or a single thing for a pair")
	}
}
