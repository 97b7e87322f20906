package last

import (
	"fmt"
	"strings"
	"time"

	"aerugo/internal/studio"
)

// A Subject is the piece a care sheet is for. Metal and Look are in plain words
// ("brass", "blue-green"); Look is empty where it was never measured. Ammonia says
// that it was coloured with ammonia.
type Subject struct {
	Number  int64
	Name    string
	Metal   string
	Look    string
	Sealer  string // of studio.Sealers; empty: nobody said
	Made    time.Time
	Ammonia bool
}

// A Trial is a test with its readings, on the piece itself (Same) or on a swatch of
// the same metal coloured by the same recipe. Change is what its photographs show,
// nil when they show nothing in numbers.
type Trial struct {
	Test     studio.WearTest
	Readings []studio.WearReading
	Same     bool
	Change   *Change
}

// A Section is a heading with its sentences.
type Section struct {
	Head  string
	Lines []string
}

// A Care is a care sheet. Found are the sentences on what was tested, one for each
// reading that is told; they alone say how the colour lasts. Untested names what was
// not. Maker is for whoever made the piece and is not printed.
type Care struct {
	Title    string
	What     []string
	Keep     []string
	Mind     []string
	Found    []string
	Untested string
	Maker    []string
}

// Sections returns the sheet in the order it is read.
func (c Care) Sections() []Section {
	found := c.Found
	if len(found) == 0 {
		found = []string{"This colour has not been tested."}
	}
	return []Section{
		{"What it is", c.What},
		{"How to keep it", c.Keep},
		{"Please mind", c.Mind},
		{"What was tested", append(append([]string(nil), found...), c.Untested)},
	}
}

func date(t time.Time) string { return t.Format("2 January 2006") }

// CareOf writes the care sheet. It tells what was tested and how it did, with dates,
// and says plainly what was not; without a reading nothing in it is about how long
// the colour lasts. Cautions are common practice, but for the skin side, which is from
// a jewellers' safety note (Lewton-Brain).
func CareOf(s Subject, trials []Trial, now time.Time, local *time.Location) Care {
	c := Care{Title: s.Name}
	if strings.TrimSpace(c.Title) == "" {
		c.Title = fmt.Sprintf("Piece %d", s.Number)
	}
	metal := strings.TrimSpace(s.Metal)
	if metal == "" {
		metal = "copper alloy"
	}
	look := ""
	if s.Look != "" {
		look = " In this piece it is " + s.Look + "."
	}
	c.What = append(c.What, fmt.Sprintf("This piece is made of %s. Its colour is no paint: it is a thin layer that was grown on the metal with salts and vapours, so no two pieces are alike.%s", metal, look))
	if !s.Made.IsZero() {
		c.What = append(c.What, fmt.Sprintf("Made %s, number %d.", date(s.Made.In(local)), s.Number))
	}
	switch s.Sealer {
	case "wax":
		c.What = append(c.What, "The colour is covered with wax.")
		c.Keep = append(c.Keep, "Dust it with a soft, dry brush or cloth.",
			"Once a year put on very little clear paste wax with a soft cloth, let it set, and buff it. Where hands or weather reach it, do so sooner.")
	case "oil":
		c.What = append(c.What, "The colour is covered with a film of oil.")
		c.Keep = append(c.Keep, "Dust it with a soft, dry brush or cloth.",
			"When it looks dry, wipe on very little of the same oil and take off what stays wet. Dry the cloth flat outdoors: oily cloths can catch fire by themselves.")
	case "lacquer":
		c.What = append(c.What, "The colour is covered with clear lacquer.")
		c.Keep = append(c.Keep, "Dust it; if need be wipe it with a damp cloth and dry it at once.",
			"No alcohol, acetone or window cleaner: they soften lacquer.")
	case "none":
		c.What = append(c.What, "The colour is bare: nothing covers it.")
		c.Keep = append(c.Keep, "Dust it with a soft, dry brush. Do not wipe, wash or rub it.")
	default:
		c.Keep = append(c.Keep, "Dust it with a soft, dry brush or cloth.")
	}
	c.Keep = append(c.Keep, "No metal polish, scouring, vinegar, lemon or dishwasher: they take the colour off.")
	c.Mind = append(c.Mind,
		"Not for food or drink. The colour is made of copper salts, which are poisonous: keep it away from mouths, small children and animals, and wash your hands if any comes off.",
		"If it is worn: the side on the skin should be bare metal or sealed. Take it off if the skin turns green or sore.",
		"Outdoors the colour goes on changing, and rain that runs off copper can stain stone and walls.")

	tested := map[string]bool{}
	begun := map[string]string{}
	for _, t := range trials {
		p, ok := ProtocolOf(t.Test.Protocol, t.Test.Version)
		if !ok {
			continue
		}
		read := studio.StandingWear(t.Readings)
		if p.Upkeep {
			if last, ok := lastRead(read); ok && t.Same {
				c.Keep = append(c.Keep, fmt.Sprintf("Last waxed %s; next by %s.", date(last.At.In(local)), date(last.At.Add(p.Again).In(local))))
			}
			continue
		}
		line := found(p, t, read, s.Sealer, local)
		if line == "" {
			if begun[p.Key] == "" {
				begun[p.Key] = fmt.Sprintf(" (begun %s, nothing found yet)", date(t.Test.Start.In(local)))
			}
			continue
		}
		tested[p.Key] = true
		c.Found = append(c.Found, line)
	}
	var not []string
	for _, p := range Protocols {
		if !p.Upkeep && !tested[p.Key] {
			not = append(not, strings.ToLower(p.Name[:1])+p.Name[1:]+begun[p.Key])
		}
	}
	if len(not) > 0 {
		c.Untested = "Not tested, so nothing is promised: " + strings.Join(not, "; ") + "."
	} else {
		c.Untested = "What was not tested is not promised."
	}
	if s.Ammonia && strings.Contains(strings.ToLower(metal), "brass") {
		c.Maker = append(c.Maker, "Bent or hammered brass that met ammonia can crack later by itself (season cracking). Heat it to 250-300 °C for 30 to 60 minutes before it meets ammonia; look this piece over for fine cracks before it is sold. (From memory.)")
	}
	if s.Sealer == "" {
		c.Maker = append(c.Maker, "Say what it is sealed with, and the sheet tells how to keep that.")
	}
	return c
}

func lastRead(readings []studio.WearReading) (last studio.WearReading, ok bool) {
	for _, r := range readings {
		if r.Kind == studio.WearRead {
			last, ok = r, true
		}
	}
	return last, ok
}

// found is the sentence on one trial, empty when nothing was found yet.
func found(p Protocol, t Trial, readings []studio.WearReading, sealer string, local *time.Location) string {
	last, ok := lastRead(readings)
	if !ok {
		return ""
	}
	g, ok := p.Grade(last.Grade)
	if !ok {
		return ""
	}
	var b strings.Builder
	did := strings.ToLower(p.Did[:1]) + p.Did[1:]
	if last.Count > 0 {
		did = fmt.Sprintf("%s (%d times)", did, last.Count)
	}
	if t.Same {
		fmt.Fprintf(&b, "This piece: %s", did)
	} else {
		fmt.Fprintf(&b, "Not this piece but test swatch %d, of the same metal and recipe: %s", t.Test.Face.Swatch, did)
	}
	if t.Test.Sealer != sealer {
		if t.Test.Sealer == "none" {
			b.WriteString(", unsealed and so not as this piece is")
		} else {
			fmt.Fprintf(&b, ", sealed with %s and so not as this piece is", t.Test.Sealer)
		}
	}
	if t.Test.Site != "" {
		if s, ok := SiteOf(t.Test.Site); ok {
			fmt.Fprintf(&b, ", in a place of corrosivity class %s (%s)", s.Class, s.Word)
		}
	}
	if months := Months(t.Test.Start, last.At); months >= 0.5 {
		fmt.Fprintf(&b, ", for %s", longSpan(last.At.Sub(t.Test.Start)))
	}
	fmt.Fprintf(&b, ", looked at %s: %s, that is, %s.", date(last.At.In(local)), strings.ToLower(g.Word[:1])+g.Word[1:], g.Means)
	if t.Change != nil {
		fmt.Fprintf(&b, " By its photographs: %s", strings.ToLower(t.Change.Words[:1])+t.Change.Words[1:])
	}
	return b.String()
}
