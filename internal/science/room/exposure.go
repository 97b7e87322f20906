package room

import (
	"slices"
	"time"

	"aerugo/internal/science/matter"
)

// A Standing is how the room stands against one published limit: Value is the
// room's worst mean over the time the limit speaks of.
type Standing struct {
	matter.Limit
	Span  time.Duration // 0 for a limit on any moment
	Worst PPM
	Over  bool
}

// spans are the times that limits speak of.
var spans = map[string]time.Duration{
	"8 h": 8 * time.Hour, "1 h": time.Hour, "15 min": 15 * time.Minute, "10 min": 10 * time.Minute,
	"ceiling": 0, "immediately dangerous": 0,
}

// Against returns how a course stands against limits in ppm, in their order;
// limits in other units or for other times are left out. A mean of 8 hours is
// the worst of the course, as if that stretch were the working day.
func (c Course) Against(limits []matter.Limit) []Standing {
	var all []Standing
	for _, l := range limits {
		span, known := spans[l.Kind]
		if !known || l.Unit != "ppm" {
			continue
		}
		worst, _ := c.Peak()
		if span > 0 {
			worst = c.Worst(span)
		}
		all = append(all, Standing{Limit: l, Span: span, Worst: worst, Over: float64(worst) > l.Value})
	}
	return all
}

// An Action is one thing to do, in plain words, with what it rests on.
type Action struct {
	Text     string
	Source   string
	Standing string
}

// Actions returns what to do about the course, what matters most first: the
// plain things before any number. The limits are of the gas let out.
func (c Course) Actions(limits []matter.Limit) []Action {
	const practice = "common practice, no source"
	acts := []Action{
		{"Lift the lid outdoors or under a hood that blows outside.", "McCann, ventilation overview", "read in source"},
		{"Keep your face away from the gap, lift the far edge first, step back and wait two minutes before you reach in.", "", practice},
		{"Wear goggles; nobody else stands near; no flame or spark within 3 m.", "", practice},
	}
	over := func(kind string) bool {
		return slices.ContainsFunc(c.Against(limits), func(s Standing) bool { return s.Kind == kind && s.Over })
	}
	switch {
	case over("immediately dangerous"):
		acts = slices.Insert(acts, 0, Action{"Don't do this indoors: the whole room would be dangerous at once. If it happens, everyone out, doors open, and stay out.", "NIOSH, Documentation for IDLH concentrations", "read in source"})
	case over("15 min") || over("ceiling"):
		acts = slices.Insert(acts, 0, Action{"Don't do this with people in the room: open up outdoors, let out less at a time, or leave until it has cleared.", "", practice})
	case over("8 h"):
		acts = append(acts, Action{"Too much for a whole day: space the openings out or change more air.", "", practice})
	}
	return append(acts,
		Action{"Sting, headache or cough: all out, lid on. Smell is not a meter: the nose tires; use a detector.", "Minnesota Department of Agriculture, anhydrous ammonia health effects page", "read in source"},
	)
}
