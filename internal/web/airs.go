package web

import (
	"fmt"
	"hash/fnv"
	"sync"
	"time"

	"aerugo/internal/flow/fume"
)

// airs keeps what was reckoned of each chamber until a record changes: every
// open page asks again at every tap.
type airs struct {
	mu  sync.Mutex
	cal map[int64]kept[fume.Calibration]
	now map[int64]kept[fume.State]
}

type kept[T any] struct {
	of    uint64
	value T
}

// fresh is how long a reckoned state counts as now.
const fresh = 10 * time.Second

func (a *airs) calibrated(b fume.Bench, jobs []fume.Job, now time.Time) fume.Calibration {
	return remember(a, &a.cal, b.Chamber.ID, digest(b, jobs, true), func() fume.Calibration { return fume.Calibrate(b, jobs, now) })
}

func (a *airs) look(b fume.Bench, jobs []fume.Job, now time.Time) fume.State {
	of := digest(b, jobs, false) ^ uint64(now.Truncate(fresh).UnixNano())
	return remember(a, &a.now, b.Chamber.ID, of, func() fume.State { return fume.Look(b, jobs, now) })
}

func remember[T any](a *airs, in *map[int64]kept[T], id int64, of uint64, reckon func() T) T {
	a.mu.Lock()
	was, ok := (*in)[id]
	a.mu.Unlock()
	if ok && was.of == of {
		return was.value
	}
	v := reckon()
	a.mu.Lock()
	if *in == nil {
		*in = map[int64]kept[T]{}
	}
	(*in)[id] = kept[T]{of, v}
	a.mu.Unlock()
	return v
}

// digest changes when anything that a chamber is reckoned from does. Of what was
// only watched, a calibration needs no more than the treatments that were.
func digest(b fume.Bench, jobs []fume.Job, watched bool) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%+v %+v %+v", b.Chamber, b.Supplies, b.K)
	seen := map[int64]bool{}
	for _, l := range b.Log {
		seen[l.Treatment] = true
		fmt.Fprintf(h, "%d %s %v %+v;", l.ID, l.Kind, l.At, l.Cap)
	}
	for _, j := range jobs {
		if !watched || seen[j.Treatment.ID] {
			fmt.Fprintf(h, "%d %v %v %v %d;", j.Treatment.ID, j.Record.Began, j.Record.Keys, j.Record.Steps, len(j.Record.Room))
		}
	}
	return h.Sum64()
}
