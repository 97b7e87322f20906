package store

import (
	"testing"

	"aerugo/internal/studio"
)

// crowded is a studio of 60 swatches with 4 photographs of each.
func crowded(b *testing.B) *Store {
	s := fresh(b)
	for range 20 {
		for _, w := range furnish(b, s, false).pieces {
			for i := range 4 {
				p := addPhoto(b, s, shot(w.Number, studio.BothFaces[i%2], studio.Finished, noon))
				must[studio.Measurement](b)(s.AddMeasurement(ctx, reading(p.ID)))
			}
		}
	}
	b.ResetTimer()
	return s
}

func BenchmarkAddEvent(b *testing.B) {
	s := crowded(b)
	for i := range b.N {
		must[[]studio.Event](b)(s.AddEvents(ctx, []studio.Event{began(1, keys(i))}))
	}
}

func BenchmarkAddPhoto4MB(b *testing.B) {
	s := crowded(b)
	data := picture(4 << 20)
	for i := range b.N {
		data[i%len(data)]++
		if _, _, err := s.AddPhoto(ctx, shot(1, studio.Front, studio.Bare, noon), data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLooks(b *testing.B) {
	s := crowded(b)
	for range b.N {
		must[[]studio.Look](b)(s.Looks(ctx))
	}
}

func BenchmarkSeen(b *testing.B) {
	s := crowded(b)
	for range b.N {
		must[Counts](b)(s.Seen(ctx))
	}
}

func BenchmarkTreatments(b *testing.B) {
	s := crowded(b)
	for range b.N {
		must[[]studio.Treatment](b)(s.Treatments(ctx, TreatmentFilter{}))
	}
}

func BenchmarkHasInvented(b *testing.B) {
	s := crowded(b)
	for range b.N {
		must[bool](b)(s.HasInvented(ctx))
	}
}

func BenchmarkBackup(b *testing.B) {
	s := crowded(b)
	for range b.N {
		must[string](b)(s.Backup(ctx, ""))
	}
}

func BenchmarkOpen(b *testing.B) {
	s := crowded(b)
	s.Close()
	for range b.N {
		mustOpen(b, s.Dir(), nil).Close()
	}
}
