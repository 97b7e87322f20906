package mat

import "testing"

// BenchmarkFind looks for the mat in a photograph of it.
func BenchmarkFind(b *testing.B) {
	s := newScene(b, 1)
	img := s.photograph(b, printedSheet(b, s.layout))
	for b.Loop() {
		if _, err := Find(img); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(img.Width*img.Height)/1e6, "megapixels")
}
