package synth

import (
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// Every rate at which a heart may beat gives a truth that keeps the promise of a
// segmentation.
func TestTruthCoversRecording(t *testing.T) {
	for rate := 40.0; rate <= 220; rate += 4 {
		for _, law := range SystoleLaws() {
			h := NewHeart(rate, law, uint64(rate))
			r, err := Render(h, 7*time.Second, 4000)
			if err != nil {
				t.Errorf("%g bpm, %s: %v", rate, law.Name, err)
				continue
			}
			s := pcg.Segmentation{Intervals: r.Truth}
			if err := s.Check(r.Length()); err != nil {
				t.Errorf("%g bpm, %s: %v", rate, law.Name, err)
			}
		}
	}
}
