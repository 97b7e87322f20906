package taste

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"aerugo/internal/science/stat"
	"aerugo/internal/studio"
)

// planned is a set of two factors, three of each combination.
func planned() (studio.Set, []studio.FaceOf, Settings) {
	set := studio.Set{Factors: []studio.Factor{
		{Name: "wetting", Kind: studio.ByWetting, Levels: []studio.Level{{Label: "dry"}, {Label: "wetted", Yes: true}}},
		{Name: "fuming", Kind: studio.ByMinutes, Levels: []studio.Level{{Label: "1 h", Number: 60}, {Label: "2 h", Number: 120}, {Label: "4 h", Number: 240}}},
	}}
	var ts []studio.Treatment
	for i := range 12 {
		ts = append(ts, studio.Treatment{Swatch: int64(i + 1), Faces: studio.OnFront, Layer: 1, Settings: []studio.Setting{
			{Factor: "wetting", Kind: studio.ByWetting, Level: set.Factors[0].Levels[i%2]}, {Factor: "fuming", Kind: studio.ByMinutes, Level: set.Factors[1].Levels[i/2%3]}}})
	}
	return set, faces(12), SettingsOf(ts)
}

func sitting(r *rand.Rand, fs []studio.FaceOf, likes liking, n int) []studio.Choice {
	var out []studio.Choice
	for i := range n {
		who := []string{"Ana", "Ben", "Cleo"}[i%3]
		out = append(out, likes.choose(r, Ahead(Ask{Faces: fs, Choices: out, Who: who, Rand: r}, 1)[0], who, 0.1))
	}
	return out
}

// What is really preferred is found, and where nothing is, a preference is claimed in
// about one sitting of ten at most: counted in simulated people whose truth is known.
// Swatches made alike are liked differently too, which choices alone would not show.
func TestPreferenceOfASettingIsFound(t *testing.T) {
	set, fs, settings := planned()
	found, invented := 0, 0
	const runs = 60
	for run := range runs {
		r := rand.New(rand.NewPCG(21, uint64(run)))
		likes, none := draw(r, fs, 0.7), draw(r, fs, 0.7)
		for _, f := range fs {
			if settings[f][0].Level.Yes {
				likes[f] += 2.5
			}
		}
		for _, x := range []struct {
			likes liking
			count *int
		}{{likes, &found}, {none, &invented}} {
			choices := sitting(r, fs, x.likes, 60)
			f, err := FitChoices(fs, choices)
			if err != nil {
				t.Fatal(err)
			}
			claims := CausesOf(set, f, choices, settings)
			if len(claims) != 2 {
				t.Fatalf("%d claims, want one for each factor", len(claims))
			}
			for _, c := range claims {
				if c.Sure && (x.count == &invented || c.Factor == "wetting" && strings.HasPrefix(c.Words, "Wetting: wetted is preferred to dry, ")) {
					*x.count++
					break
				}
			}
		}
	}
	t.Logf("found in %d of %d sittings, invented in %d of %d", found, runs, invented, runs)
	if found < runs*8/10 || invented > runs*15/100 {
		t.Errorf("found in %d of %d sittings, invented in %d", found, runs, invented)
	}
}

func TestPreferenceIsCountedAndDoubtSaid(t *testing.T) {
	set, fs, settings := planned()
	likes := liking{}
	for _, f := range fs {
		likes[f] = settings[f][1].Level.Number / 20
	}
	choices := sitting(dice(3), fs, likes, 80)
	f, err := FitChoices(fs, choices)
	if err != nil {
		t.Fatal(err)
	}
	claims := CausesOf(set, f, choices, settings)
	if c := claims[0]; !c.Sure || !strings.HasPrefix(c.Words, "Fuming: more (4 h) is preferred to less (1 h), ") || len(c.Swatches) != 12 {
		t.Errorf("%+v", c)
	}
	if c := claims[1]; c.Sure || c.Why == "" || !strings.HasPrefix(c.Words, "Wetting: can’t tell which is preferred; ") {
		t.Errorf("%+v", c)
	}
	// one of each: nothing says what chance does
	alone := fs[:6]
	f, err = FitChoices(alone, choices)
	if err != nil {
		t.Fatal(err)
	}
	set.Factors = append(set.Factors, studio.Factor{Name: "liquid", Kind: studio.ByLiquid, Levels: []studio.Level{{Label: "a"}, {Label: "b"}, {Label: "c"}, {Label: "d"}}})
	for i, x := range alone {
		settings[x] = append(settings[x], studio.Setting{Factor: "liquid", Kind: studio.ByLiquid, Level: set.Factors[2].Levels[i%4]})
	}
	for _, c := range CausesOf(set, f, choices, settings) {
		if c.Sure || c.Why == "" {
			t.Errorf("%+v", c)
		}
	}
	if got := CausesOf(studio.Set{}, f, choices, settings); got != nil {
		t.Errorf("without factors: %+v", got)
	}
}

// TestScoresMeetR: the bitterness of wine (Randall 1989) by temperature and contact. R's
// ordinal 'clm' gives the likelihood ratio 11.043 on one degree of freedom for contact,
// p = 0.00089 (Christensen, A Tutorial on fitting Cumulative Link Models with the
// ordinal package, section 2; from memory).
func TestScoresMeetR(t *testing.T) {
	m := stat.Model{Conf: Confidence, Columns: []stat.Column{{Name: "temp"}, {Name: "contact"}}, Terms: []stat.Term{{"temp"}, {"contact"}}}
	var scores []int
	for _, row := range readTable(t, "wine.csv") {
		m.Columns[0].Labels = append(m.Columns[0].Labels, row[2])
		m.Columns[1].Labels = append(m.Columns[1].Labels, row[3])
		scores = append(scores, int(amount(t, row[1]))-1)
	}
	m.Response = make([]float64, len(scores))
	ps, why := judgeScores(m, []studio.Factor{{Name: "temp"}, {Name: "contact"}}, scores)
	if why != "" || math.Abs(ps[1]-0.00089) > 1e-5 || !(ps[0] < 1e-5) {
		t.Errorf("p is %v %s", ps, why)
	}
	if p := likelihoodRatio(3.841, 1); math.Abs(p-0.05) > 1e-4 { // chi-squared tables
		t.Errorf("3.841 on 1 degree of freedom has p = %v", p)
	}
}

// TestRanksShareTheirPlaces: scores alike share the mean of their places (Conover and Iman
// 1981, average ranks; worked by hand).
func TestRanksShareTheirPlaces(t *testing.T) {
	if got := midRanks([]int{3, 1, 2, 2, 0, 2}); !slices.Equal(got, []float64{6, 2, 4, 4, 1, 4}) {
		t.Error(got)
	}
}

func scored(who string, f studio.FaceOf, of studio.ScoreOf, value int) studio.Score {
	return studio.Score{Who: who, Face: f, Of: of, Value: value, At: time.Unix(0, 0)}
}

func TestScoresBySetting(t *testing.T) {
	set, fs, settings := planned()
	var scores []studio.Score
	for i, f := range fs {
		v := []int{3, 5, 2, 3, 1, 4, 1, 3, 2, 5, 3, 4}[i] // dry and wetted in turn
		scores = append(scores, scored("Ana", f, studio.ScoreTexture, v), scored("Ben", f, studio.ScoreTexture, v), scored("Ana", f, studio.ScoreColour, []int{3, 1, 4, 1, 5, 2, 2, 5, 3, 4, 1, 3}[i]))
	}
	claims := ScoreCauses(set, scores, settings)
	if len(claims) != 4 {
		t.Fatalf("%d claims: %+v", len(claims), claims)
	}
	if c := claims[0]; !c.Sure || !strings.HasPrefix(c.Words, "Wetting: wetted scores higher than dry for its texture, mostly ") || !strings.HasSuffix(c.Words, "from 12 swatches.") {
		t.Errorf("%+v", c)
	}
	for _, c := range claims[1:] {
		if c.Sure || c.Why == "" {
			t.Errorf("%+v", c)
		}
	}
	if got := ScoreCauses(set, scores[:6], settings); got != nil {
		t.Errorf("of two swatches: %+v", got)
	}
}

func TestTallyIsTheMiddleOfTheNewest(t *testing.T) {
	f := faces(1)[0]
	at := func(who string, value, minute int) studio.Score {
		s := scored(who, f, studio.ScoreWhole, value)
		s.At = time.Unix(int64(60*minute), 0)
		return s
	}
	for _, x := range []struct {
		scores []studio.Score
		want   string
		people int
	}{
		{[]studio.Score{at("Ana", 2, 1)}, "poor", 1},
		{[]studio.Score{at("Ana", 2, 1), at("Ana", 5, 2)}, "excellent", 1},
		{[]studio.Score{at("Ana", 2, 1), at("Ben", 3, 1)}, "poor to fair", 2},
		{[]studio.Score{at("Ana", 1, 1), at("Ben", 5, 1), at("Cleo", 4, 1)}, "good", 3},
	} {
		got, ok := TallyOf(x.scores, f, studio.ScoreWhole)
		if !ok || got.Words != x.want || got.People != x.people {
			t.Errorf("%+v, want %s", got, x.want)
		}
	}
	if _, ok := TallyOf(nil, f, studio.ScoreWhole); ok {
		t.Error("nothing was scored")
	}
}
