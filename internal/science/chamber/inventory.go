package chamber

import (
	"math"

	"aerugo/internal/science/film"
)

// pad is the pad with the air over it.
type pad struct {
	molality float64 // mol/kg
	padWater float64 // g
	air      film.Air
}

// stock is what is inside, and what has gone and come.
type stock struct {
	nh3, h2o                       float64 // mol, g: on the pad, in the air, on faces
	leaked, opened, taken, brought struct{ nh3, h2o float64 }
}

// settle shares the inventory out between pad, air and films (whose water is
// next), and reports whether the pad has water left; if not nothing is changed.
func (r *runner) settle() bool {
	was := r.pad
	perPascal := r.volume / (gas * float64(r.box.Temp.Kelvin())) // mol
	onFaces := 0.0
	for i := range r.faces {
		if f := &r.faces[i]; f.inside {
			onFaces += f.area * f.next
		}
	}
	m := r.molality
	for range 60 {
		air := r.bath.Over(m)
		padWater := r.h2o - onFaces - float64(air.H2O)*perPascal*molarWater
		if padWater <= 0 {
			r.pad = was
			return false
		}
		inAir := float64(air.NH3) * perPascal
		have := m*padWater/1000 + inAir
		slope := padWater / 1000
		if m > 0 {
			slope += inAir * r.bath.Rises(m) / m
		}
		for i := range r.faces {
			f := &r.faces[i]
			if !f.inside || f.area*f.next == 0 {
				continue
			}
			f.ammonia = f.brine.Ammonia(air.NH3, f.brine.Molality(f.salt, f.next))
			held := f.area * f.next / 1000 * f.ammonia
			have += held
			if m > 0 {
				slope += held * r.bath.Rises(m) / (f.brine.Rises(f.ammonia) * m)
			}
		}
		r.molality, r.padWater, r.air = m, padWater, air
		if math.Abs(have-r.nh3) <= 1e-13*r.nh3 {
			break
		}
		next := m + (r.nh3-have)/slope
		if next < 0 {
			next = m / 2
		}
		m = next
	}
	return true
}

// inAir returns the ammonia (mol) and water (g) under the lid.
func (r *runner) inAir() (nh3, h2o float64) {
	perPascal := r.volume / (gas * float64(r.box.Temp.Kelvin()))
	return float64(r.air.NH3) * perPascal, float64(r.air.H2O) * perPascal * molarWater
}

// close notes a face's last state and returns the ammonia in it, mol per kg of its
// water.
func (r *runner) close(i int) float64 {
	f, face := &r.faces[i], r.face(i)
	n := f.brine.Ammonia(r.air.NH3, f.brine.Molality(f.salt, f.water))
	face.End = r.film(i)
	face.AmmoniaGM2 = f.water * n * molarAmmonia / 1000
	return n
}

// finish closes the books.
func (r *runner) finish() Result {
	nh3, h2o := r.inAir()
	var filmNH3, filmH2O float64
	for i := range r.faces {
		f := &r.faces[i]
		if !f.inside {
			continue
		}
		n := r.close(i)
		filmNH3 += f.area * f.water * n * molarAmmonia / 1000
		filmH2O += f.area * f.water
	}
	a, w := &r.out.Ammonia, &r.out.Water
	w.In = r.brought.h2o
	a.Pad, w.Pad = r.molality*r.padWater/1000*molarAmmonia, r.padWater
	a.Air, w.Air = nh3*molarAmmonia, h2o
	a.Films, w.Films = filmNH3, filmH2O
	a.Leaked, w.Leaked = r.leaked.nh3*molarAmmonia, r.leaked.h2o
	a.Opened, w.Opened = r.opened.nh3*molarAmmonia, r.opened.h2o
	a.Out, w.Out = r.taken.nh3*molarAmmonia, r.taken.h2o
	return r.out
}
