package demo

import (
	"sync"
	"time"

	"aerugo/internal/studio"
)

// told is the story at a fixed time, for what does not depend on the time.
var told = sync.OnceValues(func() ([]*chapter, error) {
	now := time.Date(2026, 5, 20, 14, 0, 0, 0, time.UTC)
	b := newBench(now)
	b.number(now)
	return story(b, now)
})

// TruthOf returns what is true of a face at a moment, and false if no
// photograph of it at that moment belongs to the example. Where a face was
// photographed several times under way, the last counts. The number is the
// swatch's in a studio that held none before the example was filled in.
func TruthOf(number int64, face studio.Face, moment studio.Moment) (Truth, bool) {
	chapters, err := told()
	if err != nil {
		return Truth{}, false
	}
	var found *shot
	for _, c := range chapters {
		for i := range c.shots {
			s := &c.shots[i]
			if int64(c.piece(s.piece)) == number && s.face == face && s.moment == moment && (found == nil || s.taken.After(found.taken)) {
				found = s
			}
		}
	}
	if found == nil {
		return Truth{}, false
	}
	return found.look.truth(), true
}
