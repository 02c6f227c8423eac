package program

import (
	"fmt"
	"testing"

	"phonocycle/pipeline/segment"
)

// BenchmarkSegment measures what a recording of 30 s costs beside the program's own
// time. The program answers at once with the states of 37 beats.
func BenchmarkSegment(b *testing.B) {
	rest := `"intervals":[`
	for i := range 37 {
		t := 0.8 * float64(i)
		rest += fmt.Sprintf(`["S1",%.4f,%.4f],["systole",%.4f,%.4f],["S2",%.4f,%.4f],["diastole",%.4f,%.4f],`, t, t+0.12, t+0.12, t+0.3, t+0.3, t+0.4, t+0.4, t+0.8)
	}
	b.Setenv("TMPDIR", b.TempDir())
	s := newTestSegmenter(b, methodFile(b, []string{"write", `{"recording":"a1",` + rest[:len(rest)-1] + "]}"}))
	defer s.Close()
	in := segment.NewInput(tone(30_000, 1000))
	in.Recording = "a1"
	for b.Loop() {
		if _, err := s.Segment(b.Context(), in); err != nil {
			b.Fatal(err)
		}
	}
}
