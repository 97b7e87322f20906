package batch

import (
	"time"

	"aerugo/internal/studio"
)

// A Place is a chamber and how many pieces it holds at once.
type Place struct {
	Chamber int64
	Name    string
	Holds   int
}

// A Filling is pieces that are in a chamber together. First and Last are places in
// the order made, from 1.
type Filling struct {
	N           int
	Chamber     int64
	Name        string
	First, Last int
	From, Till  time.Time
}

// Fillings spreads n pieces over chambers that are all empty at start: each filling
// stays for hold and the next begins turn after. The chamber that is free first is
// filled first.
func Fillings(n int, places []Place, start time.Time, hold, turn time.Duration) ([]Filling, error) {
	if n < 1 || n > 10*MaxPieces {
		return nil, studio.Problemf(studio.Invalid, "pieces", "%d pieces can't be put into chambers; write 1 to %d.", n, 10*MaxPieces)
	}
	if hold < 0 || turn < 0 {
		return nil, studio.Problemf(studio.Invalid, "hold", "A filling can't last less than no time.")
	}
	if len(places) == 0 {
		return nil, studio.Problemf(studio.Invalid, "chamber", "Choose a chamber for the pieces.")
	}
	free := make([]time.Time, len(places))
	for i, p := range places {
		if p.Holds < 1 {
			return nil, studio.Problemf(studio.Invalid, "places", "The chamber %s holds %d pieces; write how many places it has.", p.Name, p.Holds)
		}
		free[i] = start
	}
	var out []Filling
	for done := 0; done < n; {
		k := 0
		for i := range free {
			if free[i].Before(free[k]) {
				k = i
			}
		}
		f := Filling{N: len(out) + 1, Chamber: places[k].Chamber, Name: places[k].Name, First: done + 1, Last: min(n, done+places[k].Holds), From: free[k], Till: free[k].Add(hold)}
		free[k] = f.Till.Add(turn)
		done = f.Last
		out = append(out, f)
	}
	return out, nil
}
