package segment

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth"
)

// builtin makes a segmenter with options and one of the models that the program brings
// along.
func builtin(t *testing.T, m Method, options any, model string) Segmenter {
	t.Helper()
	file, err := os.ReadFile(filepath.Join("..", "..", "configs", "models", model+".json"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := m.New(options, file)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// share returns the F1 of the sounds that a segmentation has within the headline
// tolerance.
func share(t *testing.T, s Segmenter, r *synth.Recording) float64 {
	t.Helper()
	got, err := s.Segment(context.Background(), NewInput(r.Samples))
	if err != nil {
		t.Fatal(err)
	}
	sounds, hits, besides := found(r.Truth, got.Intervals, headline)
	return 2 * float64(hits) / float64(sounds+hits+besides)
}

// Hearts of all rates that a method searches are segmented at their rate, not at half or
// twice of it.
func TestRates(t *testing.T) {
	springer := defaultLogisticOptions()
	springer.Rates = Rates{Slowest: 30, Fastest: 120}
	springer.Rhythm, springer.Sojourns, springer.Emission, springer.Temper = "autocorrelation", "published", "independent", 1
	for _, c := range []struct {
		name      string
		segmenter Segmenter
		rates     []float64
	}{
		{"conv-hsmm", builtin(t, convHSMM, convHSMM.Defaults(), "conv-hsmm"), []float64{40, 46, 60, 120, 160, 190, 200}},
		{"logistic-hsmm", builtin(t, logisticHSMM, logisticHSMM.Defaults(), "logistic-hsmm"), []float64{40, 46, 60, 120, 160, 200, 220}},
		{"duration-hmm", builtin(t, durationHMM, durationHMM.Defaults(), "duration-hmm"), []float64{40, 46, 60, 120, 160, 200}},
		{"springer-2016", builtin(t, logisticHSMM, springer, "springer-2016"), []float64{40, 46, 60, 120}},
	} {
		for _, rate := range c.rates {
			r := heart(t, rate, 1, 20*time.Second, synth.WithNoise(synth.Colours()[1], 10))
			if f := share(t, c.segmenter, r); f < 0.95 {
				t.Errorf("%s at %g a minute: F1 %.2f", c.name, rate, f)
			}
		}
	}
}

// A premature beat and the pause after it do not throw the method off. With -v it prints
// the F1 that README and the model card quote.
func TestPrematureBeats(t *testing.T) {
	s := builtin(t, convHSMM, convHSMM.Defaults(), "conv-hsmm")
	const hearts = 16
	for _, rate := range []float64{55, 70, 90} {
		sum := 0.0
		for seed := range uint64(hearts) {
			h := synth.NewHeart(rate, synth.SystoleLaws()[0], seed+1)
			h.Premature = 0.1
			r, err := synth.Render(h, 20*time.Second, signal.AnalysisRate, synth.WithNoise(synth.Colours()[1], 10))
			if err != nil {
				t.Fatal(err)
			}
			sum += share(t, s, r)
		}
		f := sum / hearts
		t.Logf("%g a minute: F1 %.1f %% with one premature beat in ten", rate, 100*f)
		if rate == 70 && f < 0.96 {
			t.Errorf("F1 %.3f with one premature beat in ten", f)
		}
	}
}

// Early beats and pauses have a price, no zero probability; usual diastoles hardly
// change.
func TestEctopicSojourns(t *testing.T) {
	c := childRegression()
	r := rhythm{0.8, c.systole(0.8)}
	var p pathFinder
	ll := func(diastole int) []float64 { // S1, systole, S2, the diastole and S1 again, as clear as can be
		var rows []float64
		for k, n := range []int{7, 8, 6, diastole, 7, 8, 6, 17} {
			for range n {
				row := [4]float64{-9, -9, -9, -9}
				row[k%4] = 0
				rows = append(rows, row[:]...)
			}
		}
		return rows
	}
	for _, diastole := range []int{5, 17, 38} {
		p.decoder.Load(ll(diastole))
		s := p.find(ectopicSojourns{c}, r, 20*(42+diastole+17))
		if n := len(s.Intervals); n != 8 || s.Intervals[3].State != pcg.Diastole || math.Abs(s.Intervals[3].Duration().Seconds()-float64(diastole)/frameRate) > 0.03 {
			t.Errorf("diastole of %d frames: %v", diastole, s.Intervals)
		}
	}
}
