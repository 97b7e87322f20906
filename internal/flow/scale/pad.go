package scale

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"aerugo/internal/flow/fume"
	"aerugo/internal/science"
	"aerugo/internal/science/chamber"
	"aerugo/internal/science/film"
	"aerugo/internal/science/solution"
	"aerugo/internal/studio"
)

const (
	// mostCharges is how often a pad is wetted in one stay before a larger pad or a
	// stronger solution is asked for instead.
	mostCharges = 4
	// peakRise is how much richer than over the swatch the first air may be when a
	// stronger solution stands in for more of it.
	peakRise = 1.25
	// leakFactor is how far either way an assumed leak may be off.
	leakFactor = 3.0
	// past is how long after the stay salt is followed, as for a swatch.
	past = 24.0
	// surest is the strongest solution that the formulas hold for.
	surest = 0.30
)

// A Pad is what holds the ammonia of one stay: Charges times SolutionG of a strength
// (a fraction), one every EveryH.
type Pad struct {
	SolutionG, Strength float64
	Charges             int
	EveryH              float64
}

// NH3G is the ammonia in all its charges, in grams.
func (p Pad) NH3G() float64 { return p.SolutionG * p.Strength * float64(p.Charges) }

// An Air is what a face meets in one stay: the ammonia's mean, first and last, in ppm,
// the humidity at the metal when the lid has closed, how long its salt takes to
// dissolve (+Inf for never seen to) and how long it is wet, in hours. Salt says that
// there is salt to dissolve. PadDry says that the pad runs out of water.
type Air struct {
	PPM, First, Last float64
	RH               float64
	TakesH, WetH     Span
	Salt, Wet        bool
	PadDry           bool
	Ammonia          chamber.Ledger
}

// A Stay is one time in the chamber: Was over the swatch, Kept the piece with pad and
// time left as they were, Is as proposed. Solution is one charge with its bounds, in
// grams; H the time proposed. Filling is how long vapour takes by diffusion alone to
// fill each chamber nine tenths: nothing stirs less, so it is the most. Why says in
// sentences what is different, Cant why no pad will do.
type Stay struct {
	Part, First, Last int
	Faces             studio.Faces
	Lies              []string
	Was, Kept, Is     Air
	PadWas, Pad       Pad
	Solution          Span
	WasH              float64
	H                 Span
	FillingWas        time.Duration
	Filling           time.Duration
	AreaWasM2, AreaM2 float64
	Temp              science.Celsius
	Why               []string
	Cant              string
	Unknown           []string
}

// Same reports whether pad and time stay as they were, as near as a bench can tell.
func (s Stay) Same() bool {
	near := func(a, b float64) bool { return math.Abs(a-b) <= 0.02*b }
	return s.Cant == "" && s.Pad.Charges == 1 && near(s.Pad.SolutionG, s.PadWas.SolutionG) && near(s.Pad.Strength, s.PadWas.Strength) && math.Abs(s.H.Value-s.WasH) < 0.04
}

// place is a chamber in the model's terms.
type place struct {
	box       chamber.Box
	k         *film.Transfer
	lost      float64
	pad       float64
	leakGuess bool
}

// fumed is one stay in the model's terms, over the swatch or the piece.
type fumed struct {
	place
	faces    []chamber.Face
	openings []chamber.Opening
	strength float64
	unsure   bool
	offset   science.Celsius
}

// last returns the temperature last read in a chamber.
func lastRead(b Bench) *float64 {
	var at time.Time
	var t *float64
	for _, l := range studio.Standing(b.Log) {
		if l.Kind == studio.AirRead && l.TempC != nil && !l.At.Before(at) {
			at, t = l.At, l.TempC
		}
	}
	return t
}

// temperatures are those of both chambers. Readings count only where both chambers
// were read: one from last winter would make a difference that there is not.
func (t *Takes) temperatures() (from, to science.Celsius) {
	a, b := lastRead(t.From), lastRead(t.To)
	switch {
	case t.TempC != nil:
		return science.Celsius(*t.TempC), science.Celsius(*t.TempC)
	case a != nil && b != nil:
		return science.Celsius(*a), science.Celsius(*b)
	}
	t.assume("temperature of both chambers", fmt.Sprintf("%.0f °C", float64(chamber.DefaultTemp)))
	return chamber.DefaultTemp, chamber.DefaultTemp
}

// placeOf puts a chamber into the model's terms, noting what is assumed.
func (t *Takes) placeOf(b Bench, temp science.Celsius, what string) place {
	c := b.Chamber
	if c.Name != "" {
		what = c.Name
	}
	or := func(got, otherwise float64, of, unit string) float64 {
		if got > 0 {
			return got
		}
		t.assume(of+" in "+what, fmt.Sprintf("%.3g %s", otherwise, unit))
		return otherwise
	}
	p := place{leakGuess: c.LeakPerH == 0}
	p.box = chamber.Box{VolumeL: or(c.VolumeL, chamber.DefaultVolumeL, "air under the lid", "L"), LeakPerH: or(c.LeakPerH, chamber.DefaultLeakPerH, "air changed through the closed lid", "times an hour"),
		Temp: temp, GapMM: or(c.GapMM, chamber.DefaultGapMM, "gap from pad to piece", "mm"), RoomRH: chamber.DefaultRoomRH}
	p.lost = or(c.OpenLoss, chamber.DefaultLost, "air that one lifting of the lid lets go", "of it")
	p.pad = c.PadML
	if b.K.Value > 0 {
		p.k = &film.Transfer{K: b.K.Value, Low: b.K.Low, High: b.K.High, How: "as calibrated in " + what}
	}
	return p
}

// fume reckons every stay of every part.
func (t *Takes) fume() error {
	fromT, toT := t.temperatures()
	var from, to place
	made := false
	for i, p := range t.Parts {
		for _, group := range t.staysOf(p) {
			if m := t.material(p.Steps[group[0].First]); m != "" && m != "ammonia-water" {
				t.say(fmt.Sprintf("What the fumes of %s do in another chamber is not known here; only ammonia's are reckoned.", substance(m)), "its amount and time are left as they were")
				continue
			}
			if !made {
				from, to, made = t.placeOf(t.From, fromT, "the swatch's chamber"), t.placeOf(t.To, toT, "the piece's chamber"), true
			}
			if err := t.one(i, p, group, from, to); err != nil {
				return err
			}
		}
	}
	return nil
}

// material is what a step takes, by its bottle where it names one.
func (t *Takes) material(s studio.Step) string {
	for _, x := range t.Supplies {
		if x.ID == s.SupplyID && x.Material != "" {
			return x.Material
		}
	}
	return s.Material
}

// staysOf returns the stays of a part, those that go in together as one group.
func (t *Takes) staysOf(p Part) [][]fume.Stay {
	steps := slices.Clone(p.Steps)
	for i := range steps {
		steps[i].Amount = p.perArea(steps[i])
	}
	tried, _ := p.tried()
	start := time.Date(2000, 1, 1, 8, 0, 0, 0, time.UTC) // any: only spans are read
	var groups [][]fume.Stay
	for _, st := range fume.StaysOf(fume.Job{Treatment: studio.Treatment{Faces: p.Faces, Steps: steps}, Swatch: tried}, t.Supplies, start) {
		i := slices.IndexFunc(groups, func(g []fume.Stay) bool { return g[0].First == st.First })
		if i < 0 {
			groups = append(groups, []fume.Stay{st})
			continue
		}
		groups[i] = append(groups[i], st)
	}
	return groups
}

// facesOf puts the faces of a group into the model's terms with an area each in m²; a
// face whose coat can't be reckoned goes in without it, for its area's sake.
func facesOf(group []fume.Stay, area func(studio.Face) float64, salt float64) []chamber.Face {
	var out []chamber.Face
	for _, st := range group {
		f := chamber.Face{AreaM2: area(st.Face)}
		if !st.Unknown {
			f.Salt, f.SaltGPerM2, f.WaterGPerM2 = st.Salt, st.SaltGPerM2*salt, st.WaterGPerM2
			if !st.Salted.IsZero() {
				f.Salted = max(st.Salted.Sub(st.In), 0)
			}
		}
		out = append(out, f)
	}
	return out
}

// one reckons one stay.
func (t *Takes) one(part int, p Part, group []fume.Stay, from, to place) error {
	first := group[0]
	tried, _ := p.tried()
	s := Stay{Part: part, First: first.First, Last: first.Last, Faces: p.Faces, WasH: first.Out.Sub(first.In).Hours(), Temp: to.box.Temp}
	n := float64(t.Full.Together)
	pieceM2 := func(f studio.Face) float64 { return n * t.PieceM2[map[studio.Face]int{studio.Back: 1}[f]] }
	was := fumed{place: from, faces: facesOf(group, tried.FaceM2, 1), strength: first.Strength / 100}
	is := fumed{place: to, faces: facesOf(group, pieceM2, 1)}
	for i, st := range group {
		s.AreaWasM2 += was.faces[i].AreaM2
		s.AreaM2 += is.faces[i].AreaM2
		if st.Unknown {
			s.Unknown = append(s.Unknown, st.Doubt...)
		}
		if st.Words != "" && !slices.Contains(s.Lies, st.Words) {
			s.Lies = append(s.Lies, st.Words)
		}
		if d := was.faces[i].Salted; d > 0 {
			was.openings = append(was.openings, chamber.Opening{At: d, Lost: from.lost})
			is.openings = append(is.openings, chamber.Opening{At: d, Lost: to.lost})
		}
	}
	slices.Sort(s.Unknown)
	s.Unknown = slices.Compact(s.Unknown)
	if was.strength == 0 {
		was.strength, was.unsure = chamber.DefaultStrength, true
		t.assume("strength of the ammonia", fmt.Sprintf("%.0f %% by mass", 100*was.strength))
	}
	is.strength, is.unsure = was.strength, was.unsure
	s.PadWas = Pad{SolutionG: from.pad, Strength: was.strength, Charges: 1, EveryH: s.WasH}
	if s.PadWas.SolutionG == 0 {
		s.PadWas.SolutionG = chamber.DefaultSolutionG
		t.assume("solution on the swatch's pad", fmt.Sprintf("%.0f g", s.PadWas.SolutionG))
	}
	if !(s.WasH > 0 && s.WasH <= 1440-past) {
		return studio.Problemf(studio.Invalid, "recipe", "Step %d fumes for %.4g hours, which can't be reckoned; write a time from a minute to 59 days.", first.First+1, s.WasH)
	}
	s.FillingWas, s.Filling = filling(t.From.Chamber, was.box), filling(t.To.Chamber, is.box)

	var err error
	if s.Was, err = was.meet(s.PadWas, s.WasH, spreads(group)); err != nil {
		return reason(err, "the swatch's chamber")
	}
	if s.Kept, err = is.meet(s.PadWas, s.WasH, spreads(group)); err != nil && !errors.Is(err, chamber.ErrPadTooSmall) {
		return reason(err, "the piece's chamber")
	}
	s.H = Span{Value: s.WasH, Low: s.WasH, High: s.WasH}
	if err := t.propose(&s, was, is); err != nil {
		return err
	}
	if s.Is, err = is.meet(s.Pad, s.H.Value, spreads(group)); err != nil {
		return reason(err, "the piece's chamber")
	}
	if t.lengthen(&s) { // the pad has to last as long
		if err := t.propose(&s, was, is); err != nil {
			return err
		}
		if s.Is, err = is.meet(s.Pad, s.H.Value, spreads(group)); err != nil {
			return reason(err, "the piece's chamber")
		}
	}
	s.say(was, is)
	t.Stays = append(t.Stays, s)
	return nil
}

// spreads are the shares by which the salt of a group may be otherwise.
func spreads(group []fume.Stay) float64 {
	r := 0.0
	for _, st := range group {
		if st.SaltGPerM2 == 0 || st.Unknown {
			continue
		}
		by := st.SaltSD / st.SaltGPerM2
		if by == 0 && st.Assumed {
			by = 0.2
		}
		r = max(r, min(by, 0.9))
	}
	return r
}

// stepFor is the step of a run: long stays change slowly.
func stepFor(hours float64) time.Duration {
	if hours > 24 {
		return 20 * time.Minute
	}
	return 10 * time.Minute
}

func (f fumed) options(hours float64) chamber.Options {
	o := chamber.Options{Step: stepFor(hours)}
	if f.k != nil {
		o.K = f.k.K
	}
	return o
}

func (f fumed) pieces() []chamber.Piece { return []chamber.Piece{{Offset: f.offset, Faces: f.faces}} }

// mean is the ammonia's mean pressure in Pa over the charges of a pad; a pad too small
// to fill the air gives none. Each charge fills the air anew, as the lid was open; the
// liquid on the faces is filled by the first.
func (f fumed) mean(p Pad) (float64, error) {
	first, err := f.meanOf(p)
	if err != nil || p.Charges < 2 {
		return first, err
	}
	later := f
	later.openings = nil
	later.faces = slices.Clone(f.faces)
	for i := range later.faces {
		later.faces[i].AreaM2, later.faces[i].Salted = 0, 0
	}
	rest, err := later.meanOf(p)
	n := float64(p.Charges)
	return (first + (n-1)*rest) / n, err
}

// meanOf is the mean over one charge.
func (f fumed) meanOf(p Pad) (float64, error) {
	r, err := chamber.Run(f.box, chamber.Pad{SolutionG: p.SolutionG, Strength: p.Strength}, f.within(p.EveryH), f.pieces(), p.EveryH, f.options(p.EveryH))
	if errors.Is(err, chamber.ErrPadTooSmall) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	sum := 0.0
	for i := 1; i < len(r.Series); i++ {
		a, b := r.Series[i-1], r.Series[i]
		sum += (b.At - a.At).Hours() * float64(a.NH3+b.NH3) / 2
	}
	return sum / p.EveryH, nil
}

// within are the openings of the lid within so many hours.
func (f fumed) within(hours float64) []chamber.Opening {
	return slices.DeleteFunc(slices.Clone(f.openings), func(o chamber.Opening) bool { return o.At.Hours() >= hours })
}

// meet is what the faces meet. First and Last are those of the first of several charges;
// the dissolving is followed with all their solution on the pad at once.
func (f fumed) meet(p Pad, hours, salt float64) (Air, error) {
	var doubt chamber.Doubt
	doubt.Calibrated = f.k
	if f.unsure {
		doubt.Strength = f.strength / 2
	}
	all := chamber.Pad{SolutionG: p.SolutionG * float64(p.Charges), Strength: p.Strength}
	follow := hours + past
	opt := f.options(follow)
	r, err := chamber.Predict(f.box, all, f.openings, f.pieces(), follow, opt, doubt)
	if err != nil {
		return Air{}, err
	}
	one, err := chamber.Run(f.box, chamber.Pad{SolutionG: p.SolutionG, Strength: p.Strength}, f.within(p.EveryH), f.pieces(), p.EveryH, f.options(p.EveryH))
	if err != nil {
		return Air{}, err
	}
	a := Air{First: one.Series[0].PPM(), Last: one.Series[len(one.Series)-1].PPM(), RH: one.Pieces[0].RH(one.Series[0]), PadDry: one.PadDry, Ammonia: one.Ammonia}
	m, err := f.mean(p)
	if err != nil {
		return Air{}, err
	}
	a.PPM = 1e6 * m / atmosphere
	var others []chamber.Result
	if salt > 0 {
		for _, k := range []float64{1 - salt, 1 + salt} {
			g := f
			g.faces = slices.Clone(f.faces)
			for i := range g.faces {
				g.faces[i].SaltGPerM2 *= k
			}
			if o, err := chamber.Run(g.box, all, g.openings, g.pieces(), follow, opt); err == nil {
				others = append(others, o)
			}
		}
	}
	for i, face := range f.faces {
		a.Wet = a.Wet || face.WaterGPerM2 > 0 || face.SaltGPerM2 > 0
		if face.SaltGPerM2 == 0 {
			continue
		}
		span := r.Dissolves[0][i]
		bounds := []float64{span.Low, span.High}
		for _, o := range others {
			h := math.Inf(1)
			if x := o.Pieces[0].Faces[i]; x.Dissolved {
				h = x.DissolvedAt.Hours()
			}
			bounds = append(bounds, h)
		}
		since := face.Salted.Hours()
		at := film.Combine(span.Value, bounds...)
		takes := Span{Value: max(at.Value-since, 0), Low: max(at.Low-since, 0), High: max(at.High-since, 0)}
		if !a.Salt || takes.Value > a.TakesH.Value {
			a.TakesH = takes
			a.WetH = Span{Value: max(hours-at.Value, 0), Low: max(hours-at.High, 0), High: max(hours-at.Low, 0)}
		}
		a.Salt = true
	}
	if a.Wet && !a.Salt {
		a.WetH = Span{Value: hours, Low: hours, High: hours}
	}
	return a, nil
}

const atmosphere = 101325.0 // Pa

// propose finds the pad for the piece's chamber that gives the swatch's ammonia.
func (t *Takes) propose(s *Stay, was, is fumed) error {
	want, err := was.mean(s.PadWas)
	if err != nil {
		return reason(err, "the swatch's chamber")
	}
	h := s.H.Value
	strength, err := equal(was, is)
	if err != nil {
		s.Cant = err.Error()
		strength = is.strength
	}
	is.strength = strength
	pad := Pad{Strength: strength, Charges: 1, EveryH: h}
	grams := func(f fumed, p Pad, want float64) (float64, bool, error) {
		return solveGrams(f, p, want, s.PadWas.SolutionG)
	}
	g, ok, err := grams(is, pad, want)
	if err != nil {
		return reason(err, "the piece's chamber")
	}
	room := is.pad
	if ok && (room == 0 || g <= room*1.0001) {
		pad.SolutionG = g
		s.settle(pad, was, is, want, grams)
		return nil
	}
	if room == 0 || !ok {
		// No pad holds enough at this strength: what escapes is more than it gives.
		s.Cant = "no amount of this solution holds the ammonia as long as over the swatch: too much escapes from this chamber. Seal its lid, or fume for less time"
		pad.SolutionG = s.PadWas.SolutionG
		if room > 0 {
			pad.SolutionG = room
		}
		s.settle(pad, was, is, want, nil)
		return nil
	}
	pad.SolutionG = room
	if w, ok := stronger(is, pad, want, t.strongest(is.strength)); ok {
		pad.Strength = w
		s.Why = append(s.Why, fmt.Sprintf("At %.3g %% it would take %.0f g, and the pad of %s holds %.0f g: so the solution is stronger", 100*strength, RoundUp(g), t.To.Chamber.Name, room))
		s.settle(pad, was, is, want, nil)
		return nil
	}
	all := g
	for n := 2; n <= mostCharges; n++ {
		p := Pad{Strength: strength, Charges: n, EveryH: h / float64(n)}
		if g, ok, err := grams(is, p, want); err == nil && ok && g <= room*1.0001 {
			p.SolutionG = g
			s.Why = append(s.Why, fmt.Sprintf("The pad of %s holds %.0f g, too little to last: so it is wetted afresh every %s. A second pad would do as well, with %.0f g on both at once", t.To.Chamber.Name, room, chamber.Spoken(time.Duration(p.EveryH*float64(time.Hour))), RoundUp(all)))
			s.settle(p, was, is, want, grams)
			return nil
		}
	}
	s.Cant = fmt.Sprintf("the pad of %s holds %.0f g, and it would take about %.0f g. Lay in a second pad", t.To.Chamber.Name, room, RoundUp(g))
	pad.Strength = strength
	s.settle(pad, was, is, want, nil)
	return nil
}

// settle keeps a pad with the bounds of its solution: the leak of a lid that nobody
// measured may be otherwise. In one and the same chamber it is so for both.
func (s *Stay) settle(p Pad, was, is fumed, want float64, grams func(fumed, Pad, float64) (float64, bool, error)) {
	s.Pad = p
	s.Solution = Span{Value: p.SolutionG, Low: p.SolutionG, High: p.SolutionG}
	if grams == nil || !is.leakGuess || was.box == is.box {
		return
	}
	var others []float64
	for _, k := range []float64{1 / leakFactor, leakFactor} {
		f := is
		f.box.LeakPerH = min(f.box.LeakPerH*k, 10)
		switch g, ok, err := grams(f, p, want); {
		case err != nil:
		case ok:
			others = append(others, g)
		default:
			others = append(others, math.Inf(1))
		}
	}
	s.Solution = film.Combine(p.SolutionG, others...)
}

// equal is the strength that gives the swatch's first pressure at the piece's
// temperature.
func equal(was, is fumed) (float64, error) {
	if was.box.Temp == is.box.Temp {
		return was.strength, nil
	}
	want, err := solution.AmmoniaOver(was.strength, was.box.Temp)
	if err != nil {
		return 0, reason(err, "the swatch's chamber")
	}
	low, high := 0.0, surest
	if top, err := solution.AmmoniaOver(high, is.box.Temp); err != nil || top.NH3 < want.NH3 {
		return 0, fmt.Errorf("at %.0f °C no ammonia is strong enough for the pressure it had at %.0f °C; warm the room", float64(is.box.Temp), float64(was.box.Temp))
	}
	for high-low > 1e-7 {
		mid := (low + high) / 2
		got, err := solution.AmmoniaOver(mid, is.box.Temp)
		if err != nil {
			return 0, err
		}
		if got.NH3 < want.NH3 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2, nil
}

// solveGrams finds the least solution whose mean is the one wanted; the first guess
// is kept where it fits already. False when no amount does.
func solveGrams(f fumed, p Pad, want, guess float64) (float64, bool, error) {
	at := func(g float64) (float64, error) {
		p.SolutionG = g
		return f.mean(p)
	}
	got, err := at(guess)
	if err != nil {
		return 0, false, err
	}
	if math.Abs(got-want) <= 1e-9*want {
		return guess, true, nil
	}
	low, high := guess, guess
	atLow, atHigh := got, got
	if got < want {
		for atHigh < want {
			if low, high, atLow = high, high*2, atHigh; high > 1e5 {
				return 0, false, nil
			}
			if atHigh, err = at(high); err != nil {
				return 0, false, err
			}
		}
	} else {
		for atLow >= want {
			if high, low, atHigh = low, low/2, atLow; low < 0.1 {
				return high, true, nil
			}
			if atLow, err = at(low); err != nil {
				return 0, false, err
			}
		}
	}
	x, err := between(math.Log(low), math.Log(high), atLow-want, atHigh-want, 1e-5*want, func(x float64) (float64, error) {
		m, err := at(math.Exp(x))
		return m - want, err
	})
	return math.Exp(x), true, err
}

// between finds where f rises through nought between two ends, by false position with
// Illinois's halving; it stops within small of nought.
func between(low, high, atLow, atHigh, small float64, f func(float64) (float64, error)) (float64, error) {
	side := 0
	for range 60 {
		x := (low*atHigh - high*atLow) / (atHigh - atLow)
		if !(x > low && x < high) {
			x = (low + high) / 2
		}
		v, err := f(x)
		if err != nil {
			return 0, err
		}
		switch {
		case math.Abs(v) <= small || high-low < 1e-7:
			return x, nil
		case v < 0:
			low, atLow = x, v
			if side == -1 {
				atHigh /= 2
			}
			side = -1
		default:
			high, atHigh = x, v
			if side == 1 {
				atLow /= 2
			}
			side = 1
		}
	}
	return high, nil
}

// strongest is the strongest ammonia there is to make the pad's solution of.
func (t *Takes) strongest(than float64) float64 {
	best := 0.0
	for _, x := range t.Supplies {
		if x.Material == "ammonia-water" {
			best = max(best, min(x.WtPercent()/100, surest))
		}
	}
	return max(best, than)
}

// stronger finds the strength at which a pad of given size has the mean wanted, if
// that does not make the first air much richer than it was.
func stronger(f fumed, p Pad, want, most float64) (float64, bool) {
	first, err := solution.AmmoniaOver(p.Strength, f.box.Temp)
	if err != nil {
		return 0, false
	}
	at := func(w float64) (float64, error) {
		p.Strength = w
		m, err := f.mean(p)
		return m - want, err
	}
	low := p.Strength
	atLow, err := at(low)
	if err != nil {
		return 0, false
	}
	atHigh, err := at(most)
	if err != nil || !(atHigh >= 0) || atLow >= 0 {
		return 0, false
	}
	w, err := between(low, most, atLow, atHigh, 1e-5*want, at)
	if err != nil {
		return 0, false
	}
	peak, err := solution.AmmoniaOver(w, f.box.Temp)
	return w, err == nil && peak.NH3 <= peakRise*first.NH3
}

// lengthen sets the time so that the face is wet as long as the swatch was, and
// reports whether it changed.
func (t *Takes) lengthen(s *Stay) bool {
	more := (s.Filling - s.FillingWas).Hours()
	s.H.High = s.WasH + max(more, 0)
	if !s.Was.Salt || math.IsInf(s.Was.TakesH.Value, 1) || math.IsInf(s.Is.TakesH.Value, 1) {
		return false
	}
	by := s.Is.TakesH.Value - s.Was.TakesH.Value
	h := max(s.WasH+by, s.WasH/4)
	changed := math.Abs(h-s.H.Value) > 1e-9
	s.H = Span{Value: h, Low: max(h-(s.Is.TakesH.Value-s.Is.TakesH.Low), s.WasH/4), High: h + max(more, 0)}
	if up := s.Is.TakesH.High - s.Is.TakesH.Value; !math.IsInf(up, 1) {
		s.H.High += up
	} else {
		s.H.High = math.Inf(1)
	}
	if s.Is.TakesH == s.Was.TakesH { // the same face in the same air
		s.H = Span{Value: s.WasH, Low: s.WasH, High: s.WasH + max(more, 0)}
		return false
	}
	return changed
}

// filling is how long vapour from a pad below takes to fill a chamber to nine tenths
// of what it will be, by diffusion alone: a layer of height H, held at its underside and
// closed above, fills by 1 - 8/π² exp(-π² D t/(4 H²)) once half full (Crank, The
// Mathematics of Diffusion, 2nd edition, 1975, section 4.3; formula from memory).
// Warm metal and light ammonia stir the air, so that it is rather less.
func filling(c studio.Chamber, box chamber.Box) time.Duration {
	h := c.HeightMM / 1000
	if h == 0 {
		h = math.Cbrt(box.VolumeL / 1000)
	}
	d, err := solution.AmmoniaInAir(box.Temp)
	if err != nil {
		return 0
	}
	return time.Duration(4 * h * h / (math.Pi * math.Pi * float64(d)) * math.Log(8/(math.Pi*math.Pi*0.1)) * float64(time.Second))
}

// reason puts a refusal of the model into a person's words.
func reason(err error, where string) error {
	var out *science.RangeError
	var p *studio.Problem
	switch {
	case err == nil, errors.As(err, &p):
		return err
	case errors.As(err, &out):
		return studio.Problemf(studio.Invalid, "chamber", "%s can't be reckoned: the %s is %.3g %s, and the formulas hold from %.3g to %.3g.", capital(where), out.What, out.Got, out.Unit, out.Min, out.Max)
	case errors.Is(err, chamber.ErrPadTooSmall), errors.Is(err, chamber.ErrBoils):
		return studio.Problemf(studio.Invalid, "chamber", "%s can't be reckoned: %v.", capital(where), err)
	}
	return fmt.Errorf("reckon %s: %w", where, err)
}

// say puts what is different into sentences.
func (s *Stay) say(was, is fumed) {
	add := func(format string, args ...any) { s.Why = append(s.Why, fmt.Sprintf(format, args...)) }
	if was.box.VolumeL != is.box.VolumeL {
		add("The air under the lid is %.3g L instead of %.3g L: %.2g g of ammonia fill it instead of %.2g g", is.box.VolumeL, was.box.VolumeL, s.Is.Ammonia.Air, s.Was.Ammonia.Air)
	}
	if is.box.LeakPerH != was.box.LeakPerH || was.box.VolumeL != is.box.VolumeL {
		add("%.2g g of it leak out through the closed lid, instead of %.2g g", s.Is.Ammonia.Leaked, s.Was.Ammonia.Leaked)
	}
	if math.Abs(s.AreaM2-s.AreaWasM2) > 1e-12 && s.Is.Ammonia.Films > 0 {
		add("There are %s of treated metal in it instead of %s; the liquid on it takes up %.2g g of ammonia instead of %.2g g", Area(s.AreaM2), Area(s.AreaWasM2), s.Is.Ammonia.Films, s.Was.Ammonia.Films)
	}
	if was.box.Temp != is.box.Temp {
		add("It is %.1f °C instead of %.1f °C in it, so that the same pressure wants ammonia of %.3g %% instead of %.3g %%", float64(is.box.Temp), float64(was.box.Temp), 100*s.Pad.Strength, 100*s.PadWas.Strength)
	}
	if s.Is.Salt && !math.IsInf(s.Is.TakesH.Value, 1) && !math.IsInf(s.Was.TakesH.Value, 1) && math.Abs(s.H.Value-s.WasH) >= 0.04 {
		longer, by := "longer", s.Is.TakesH.Value-s.Was.TakesH.Value
		if by < 0 {
			longer, by = "shorter", -by
		}
		add("The salt dissolves after %s instead of %s, so it stays in %s %s and is wet as long as the swatch was", spoken(s.Is.TakesH.Value), spoken(s.Was.TakesH.Value), spoken(by), longer)
	}
	if more := s.Filling - s.FillingWas; more > time.Minute {
		add("Vapour needs up to %s more to fill it, less where the air moves: the upper end of the time counts that", chamber.Spoken(more))
	}
}

func spoken(hours float64) string {
	return chamber.Spoken(time.Duration(hours * float64(time.Hour)).Round(time.Minute))
}

// Area writes an area in the unit that suits it.
func Area(m2 float64) string {
	if m2 < 0.1 {
		return fmt.Sprintf("%.3g cm²", 1e4*m2)
	}
	return fmt.Sprintf("%.3g m²", m2)
}
