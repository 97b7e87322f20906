package scale

import (
	"fmt"
	"math"
	"strings"

	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// A Doubt is something that nobody can promise, and what was done about it.
type Doubt struct {
	What string
	Done string
}

// A Trial is a small piece to try first, with what to look for.
type Trial struct {
	Piece string
	Do    string
	Look  []string
	For   string // the doubt that it settles
}

// manyTimes is how many times the swatch's area a piece may have before its size alone
// is a reason to try.
const manyTimes = 20.0

// doubt lists what can't be promised and what to try first.
func (t *Takes) doubt() {
	if len(t.Stays) > 0 {
		t.doubtChamber()
	}
	t.doubtForm()
	t.doubtMetal()
	for _, l := range t.Lines {
		if l.Unknown != "" {
			t.say(fmt.Sprintf("How much step %d (%s) puts on was never said, so that it can't be told for the piece.", l.Step+1, l.Kind), "weigh one swatch before and after that step and write the loading into the recipe")
		}
	}
	for _, d := range t.Form.Doubts {
		t.say("About the form: "+d, "the areas are as good as the form")
	}
}

func (t *Takes) say(what, done string) { t.Doubts = append(t.Doubts, Doubt{What: what, Done: done}) }

func (t *Takes) want(w Trial) { t.Wants = append(t.Wants, w) }

func (t *Takes) doubtChamber() {
	c := t.To.Chamber
	name := c.Name
	if name == "" {
		name = "the chamber"
	}
	same := c.ID != 0 && c.ID == t.From.Chamber.ID
	logged := len(studio.Standing(t.To.Log)) > 0
	if !logged && !same {
		t.say(name+" was never logged: what its air does is reckoned, not seen.", "the pad's solution and the time have the ranges shown")
	}
	if t.To.K.Value == 0 {
		t.say("How fast water travels in "+name+" was not measured.", "dissolving times count a factor of 1.5 either way")
	}
	if !logged && !same {
		t.want(Trial{Piece: "A swatch like the one the recipe was tried on", Do: fmt.Sprintf("Lay one in %s where the piece will stand and one in the corner farthest from the pad, with the pad and the time proposed here.", name),
			Look: []string{"through the lid, when the last grain of salt is gone", "whether the corner is paler or later than the middle", "whether both look like the swatch the recipe was tried on"}, For: "a chamber nobody has logged"})
	}
	for _, s := range t.Stays {
		for _, u := range s.Unknown {
			t.say("When the face is wet can't be told: "+u+".", "only the ammonia is matched")
		}
		if s.Is.Salt && math.IsInf(s.Is.TakesH.Value, 1) && !math.IsInf(s.Was.TakesH.Value, 1) {
			t.say(fmt.Sprintf("The salt may not dissolve in %s at all, though it did over the swatch.", name), "wet the face first, or calibrate the chamber")
		} else if s.Is.Salt && math.IsInf(s.Is.TakesH.High, 1) {
			t.say(fmt.Sprintf("Whether the salt dissolves in time in %s is not sure.", name), "look through the lid before you count the hours")
		}
		if s.Cant != "" {
			t.say("The swatch's ammonia can't be had here: "+s.Cant+".", "the nearest pad is shown; expect another colour")
		}
		if s.Is.PadDry {
			t.say("The pad runs dry before the time is up.", "wet it afresh when it does")
		}
	}
	if t.Full.Crowded || !t.Full.Fits {
		t.say(t.Full.Words, "the reckoning takes the air as reaching every face alike, which it then does not")
	}
	t.say("What the metal itself binds of the ammonia as it dissolves is not reckoned.", "if the swatch's pad was spent at the end, take the upper end of the range")
}

func (t *Takes) doubtForm() {
	if Flat(t.Form) {
		if r := t.Form.OutsideMM2 * 1e-6 / t.triedM2(); r > manyTimes {
			t.say(fmt.Sprintf("The outside is %.0f times as large as the swatch: hands can't wet it as fast or as evenly.", r), "work in parts, wet edge to wet edge")
			t.want(Trial{Piece: "A scrap a hand's breadth wide and as long as the piece", Do: "Wet and salt it in one go, as you will the piece, at the same tilt.",
				Look: []string{"whether the first end has dried before the last is wet", "whether liquid gathers at one end", "the line where one stroke meets the next"}, For: "a face much larger than the swatch"})
		}
		return
	}
	if !t.Upright {
		t.say("Nobody tried this recipe on a vertical or curved face.", "what an upright side keeps of the liquid is reckoned for water draining down a plate")
		t.want(Trial{Piece: "A strip of the same metal, 20 mm wide, bent to the shape", Do: "If it can't be bent, prop a swatch at the angle of the steepest side. Do the whole recipe on it as it will stand.",
			Look: []string{"runs, and a thicker edge at the foot", "whether the top is thinner or another colour than the foot", "drops that hang from faces that look down", "how much drips off: weigh the cloth under it"}, For: "faces that are not flat"})
	}
	if t.Form.InsideMM2 > 0 && t.Form.SizeMM[2] > 0 && t.Form.SizeMM[2] > max(t.Form.SizeMM[0], t.Form.SizeMM[1])/2 && t.treats(studio.Back) {
		t.say("The inside is deep: vapour comes to its bottom late and by one way only.", "turn it half way, opening down over the pad where it can stand so")
		t.want(Trial{Piece: "A swatch laid at the bottom of the piece, masked or of scrap", Do: "Fume it there alone once, before the piece is treated.",
			Look: []string{"whether it is paler than one beside the piece", "how much later its salt dissolves"}, For: "a deep inside"})
	}
}

func (t *Takes) treats(f studio.Face) bool {
	for _, p := range t.Parts {
		if p.Faces.Has(f) {
			return true
		}
	}
	return false
}

func (t *Takes) triedM2() float64 {
	x, _ := t.Parts[0].tried()
	return x.AreaM2()
}

func (t *Takes) doubtMetal() {
	m, tried := t.Metal, t.Tried
	switch {
	case m.ThicknessMM == 0:
		t.say("How thick the piece's metal is was not said, so that what its cold does can't be told.", "say how thick it is, and ask again")
	case tried.ThicknessMM > 0 && m.ThicknessMM > 2*tried.ThicknessMM, tried.ThicknessMM == 0 && m.ThicknessMM > 3:
		t.say(fmt.Sprintf("The metal is %.3g mm thick and stays cold longer than the swatch did.", m.ThicknessMM), "let it stand in the chamber's room until it is as warm")
		t.want(Trial{Piece: fmt.Sprintf("A scrap %.3g mm thick beside a thin swatch", m.ThicknessMM), Do: "Treat both alike and put them in together.",
			Look: []string{"dew on the thick one in the first half hour", "which one's salt dissolves first", "a duller or more runny colour on the thick one"}, For: "thick metal"})
	}
	if m.Alloy != "" && tried.Alloy != "" && !strings.EqualFold(m.Alloy, tried.Alloy) {
		a, b := alloyName(m.Alloy), alloyName(tried.Alloy)
		t.say(fmt.Sprintf("The piece is %s and the swatch was %s: the same recipe can come out in another colour.", a, b), "nothing is changed for it")
		t.want(Trial{Piece: "A swatch of " + a, Do: "Do the recipe on it as on the other.", Look: []string{"its colour beside the swatch of " + b}, For: "another metal"})
	}
}

func alloyName(uns string) string {
	if a, ok := matter.Alloy(uns); ok {
		return a.Name
	}
	return uns
}
