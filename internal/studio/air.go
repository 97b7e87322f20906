package studio

import (
	"math"
	"strings"
	"time"
)

// A Room is where chambers stand and lids are lifted.
//
// VolumeM3 is its air in m³. ACH is how often an hour that air is changed, 0
// when nobody knows. Mixing is the factor K by which real mixing falls short of
// a well-mixed room: 1 is perfect, 3 a room with a fan, up to 10 for dead corners.
// Hood says that it has a working fume hood, Outdoors that it is no room at all.
type Room struct {
	ID       int64
	Name     string
	VolumeM3 float64
	ACH      float64
	Mixing   float64
	Hood     bool
	Outdoors bool
	Invented bool
	BinnedAt time.Time
}

// Check reports a Problem when r cannot be kept.
func (r Room) Check() error {
	if err := checkName(r.Name, "name"); err != nil {
		return err
	}
	if r.Outdoors {
		return nil
	}
	for _, v := range []bounds{
		{"roomvolume", "room's volume", r.VolumeM3, 1, 100000, "m³"},
		{"ach", "number of air changes", r.ACH, 0, 200, "an hour"},
		{"mixing", "mixing factor", r.Mixing, 1, 10, "(1 is perfect mixing)"},
	} {
		if err := v.check(); err != nil {
			return err
		}
	}
	return nil
}

// bounds is a number typed into a form and what it may be.
type bounds struct {
	field, what string
	got, lo, hi float64
	unit        string
}

func (v bounds) check() error {
	if !(v.got >= v.lo && v.got <= v.hi) {
		return Problemf(Invalid, v.field, "The %s can't be %v; write a number from %v to %v %s.", v.what, v.got, v.lo, v.hi, v.unit)
	}
	return nil
}

// LogKind is what kind of fact a chamber's log holds.
type LogKind string

// The kinds of a chamber's log. Records are only ever added; TakenBack takes back
// the one it names.
const (
	PadCharged LogKind = "charged" // the pad was wetted afresh
	LidOpened  LogKind = "opened"  // the lid was lifted, and nothing else was recorded by it
	AiredOut   LogKind = "aired"   // the pad was taken out and the chamber aired
	AirRead    LogKind = "read"    // temperatures read
	SaltSeen   LogKind = "seen"    // the salt on a face, looked at through the lid
	CapWeighed LogKind = "weighed" // a cap of dry salt left in the chamber, weighed again
	TakenBack  LogKind = "taken back"
)

// LogKinds lists the kinds a person may add.
var LogKinds = []LogKind{PadCharged, LidOpened, AiredOut, AirRead, SaltSeen, CapWeighed, TakenBack}

// Sight is how the salt on a face looked.
type Sight string

// The sights of salt in a chamber.
const (
	Grains    Sight = "grains left"
	Dissolved Sight = "dissolved"
)

// A CapWeighing is a bottle cap of dry salt left in the running chamber.
//
// The grams are of cap and salt together; AreaCM2 is the salt's free surface.
// Salt is its matter key.
type CapWeighing struct {
	Salt    string
	AreaCM2 float64
	BeforeG float64
	AfterG  float64
	SaltG   float64
	Hours   float64
}

// Gained returns the water taken up, in grams.
func (c CapWeighing) Gained() float64 { return c.AfterG - c.BeforeG }

// Check reports a Problem when c can't be used.
func (c CapWeighing) Check() error {
	for _, v := range []bounds{
		{"caparea", "salt's surface", c.AreaCM2, 0.5, 1000, "cm²"},
		{"capsalt", "salt in the cap", c.SaltG, 0.1, 1000, "g"},
		{"capbefore", "weight before", c.BeforeG, c.SaltG, 5000, "g, cap and salt together"},
		{"capafter", "weight after", c.AfterG, 0.1, 5000, "g"},
		{"caphours", "time between the weighings", c.Hours, 0.25, 72, "hours"},
	} {
		if err := v.check(); err != nil {
			return err
		}
	}
	if c.Gained() <= 0 {
		return Problemf(Invalid, "capafter", "The cap lost %.2f g. In a working chamber dry salt takes up water; weigh again, or look whether the cap tipped.", -c.Gained())
	}
	return nil
}

// A ChamberLog is one thing done to, or seen in, a chamber.
//
// Client is the random key of the tap. At is when it happened, Recorded when it
// reached the store; both UTC. Of PadCharged: SupplyID or Strength (percent by
// mass, 0 unknown) and SolutionG in grams. Of AirRead: TempC at the pad and PieceC
// at the metal, in °C. Of SaltSeen: Treatment, Face and Saw. Of CapWeighed: Cap.
// Of TakenBack: Corrects, the record that is taken back.
type ChamberLog struct {
	ID        int64
	Chamber   int64
	Client    string
	Kind      LogKind
	At        time.Time
	Recorded  time.Time
	By        string
	Corrects  int64
	SupplyID  int64
	Strength  float64
	SolutionG float64
	TempC     *float64
	PieceC    *float64
	Treatment int64
	Face      Face
	Saw       Sight
	Cap       *CapWeighing
	Note      string
}

// Check reports a Problem when l cannot be kept at the time now.
func (l ChamberLog) Check(now time.Time) error {
	if l.Chamber == 0 {
		return Problemf(Invalid, "chamber", "Say which chamber this is about.")
	}
	if strings.TrimSpace(l.Client) == "" {
		return Problemf(Invalid, "client", "That tap carried no key; reload the page and tap again.")
	}
	if l.At.IsZero() || l.At.After(now.Add(5*time.Minute)) {
		return Problemf(Invalid, "at", "Its time, %s, lies in the future; write when it happened.", l.At.Local().Format("2 Jan 15:04"))
	}
	if len([]rune(l.Note)) > 4000 {
		return Problemf(Invalid, "note", "That note has %d letters; 4000 are the most.", len([]rune(l.Note)))
	}
	for _, t := range []struct {
		field string
		v     *float64
	}{{"temp", l.TempC}, {"piecetemp", l.PieceC}} {
		if t.v != nil && !(*t.v >= 0 && *t.v <= 45) {
			return Problemf(Invalid, t.field, "%v °C can't be reckoned with; write a temperature from 0 to 45 °C.", *t.v)
		}
	}
	switch l.Kind {
	case PadCharged:
		if math.IsNaN(l.Strength) || l.Strength < 0 || l.Strength > 35 {
			return Problemf(Invalid, "strength", "Ammonia of %v %% can't be right; write 0 to 35, or leave it empty if the label does not say.", l.Strength)
		}
		return bounds{"solution", "solution on the pad", l.SolutionG, 0.1, 100000, "g"}.check()
	case AirRead:
		if l.TempC == nil && l.PieceC == nil {
			return Problemf(Invalid, "temp", "Write at least one temperature.")
		}
	case SaltSeen:
		if l.Treatment == 0 || (l.Face != Front && l.Face != Back) || (l.Saw != Grains && l.Saw != Dissolved) {
			return Problemf(Invalid, "saw", "Say on which swatch and face, and whether grains were left or all was dissolved.")
		}
	case CapWeighed:
		if l.Cap == nil {
			return Problemf(Invalid, "capbefore", "Write both weights.")
		}
		return l.Cap.Check()
	case TakenBack:
		if l.Corrects == 0 {
			return Problemf(Invalid, "corrects", "Say which record is taken back.")
		}
	case LidOpened, AiredOut:
	default:
		return Problemf(Invalid, "kind", "%q is not something a chamber's log holds.", string(l.Kind))
	}
	return nil
}

// Standing returns the records of a log that were not taken back, TakenBack ones
// left out, in the order given.
func Standing(log []ChamberLog) []ChamberLog {
	gone := map[int64]bool{}
	for _, l := range log {
		if l.Kind == TakenBack {
			gone[l.Corrects] = true
		}
	}
	var out []ChamberLog
	for _, l := range log {
		if l.Kind != TakenBack && !gone[l.ID] {
			out = append(out, l)
		}
	}
	return out
}
