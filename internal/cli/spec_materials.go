package cli

import (
	"fmt"
	"maps"
	"slices"

	"aerugo/internal/science/guess"
	"aerugo/internal/science/matter"
	"aerugo/internal/studio"
)

// puts is what a factor puts on a swatch: one thing where it is above 0, or by level.
type puts struct {
	above   *matter.Use
	byLevel map[int]matter.Use
}

// readMaterials reads what the spec says is used.
func (s *spec) readMaterials(factors []guess.Factor) error {
	bad := func(format string, args ...any) error {
		return studio.Problemf(studio.Invalid, "spec", "the spec: "+format, args...)
	}
	use := func(text string) (matter.Use, error) {
		u, err := useIn(text)
		if err != nil {
			return u, err
		}
		if _, known := matter.Lookup(u.Key); !known {
			return u, bad("%q is no substance known here, so what it must not meet isn't either; name it as for 'aerugo meet'", u.Key)
		}
		return u, nil
	}
	s.safe, s.metal = map[string]string{}, factorNamed(factors, s.Metal)
	if s.metal >= 0 && len(factors[s.metal].Levels) == 0 {
		return bad("metal names %s, which has no levels; name a metal, or the factor whose levels are metals", s.Metal)
	}
	for _, text := range s.Supplies {
		u, err := use(text)
		if err != nil {
			return err
		}
		s.always = append(s.always, u)
	}
	for i, f := range s.Factors {
		p := puts{byLevel: map[int]matter.Use{}}
		switch {
		case f.Material != "" && len(f.Levels) > 0:
			return bad("%s has levels, so it names materials by level, as {\"materials\": {%q: \"vinegar:5\"}}", f.Name, f.Levels[0])
		case len(f.Materials) > 0 && len(f.Levels) == 0:
			return bad("%s has no levels, so it names one material, as {\"material\": \"sodium-chloride\"}", f.Name)
		case f.Material != "":
			u, err := use(f.Material)
			if err != nil {
				return err
			}
			p.above = &u
		}
		for _, level := range slices.Sorted(maps.Keys(f.Materials)) {
			text := f.Materials[level]
			l := slices.Index(factors[i].Levels, level)
			if l < 0 {
				return bad("materials of %s names %q, which is no level of it", f.Name, level)
			}
			u, err := use(text)
			if err != nil {
				return err
			}
			p.byLevel[l] = u
		}
		s.put = append(s.put, p)
	}
	return nil
}

// stopped says why what a setting brings together must never meet; it is empty where
// nothing is known against it.
func (s *spec) stopped(factors []guess.Factor, at []float64) string {
	uses := slices.Clone(s.always)
	for i, p := range s.put {
		if u, ok := p.byLevel[int(at[i])]; ok && len(factors[i].Levels) > 0 {
			uses = append(uses, u)
		}
		if p.above != nil && at[i] > 0 {
			uses = append(uses, *p.above)
		}
	}
	metal := s.Metal
	if s.metal >= 0 {
		metal = factors[s.metal].Levels[int(at[s.metal])]
	}
	if len(uses) == 0 {
		return ""
	}
	key := fmt.Sprint(uses, metal)
	if why, known := s.safe[key]; known {
		return why
	}
	clashes := matter.Meet(uses)
	if metal != "" {
		clashes = matter.Clashes(uses, metal)
	}
	why := ""
	for _, c := range clashes {
		if c.Level == matter.Stop && why == "" {
			why = fmt.Sprintf("%s and %s: %s", c.A, c.B, c.What)
			if c.B == "" {
				why = fmt.Sprintf("%s: %s", c.A, c.What)
			}
		}
	}
	s.safe[key] = why
	return why
}
