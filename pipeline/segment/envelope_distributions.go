package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"math"
	"strings"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// envelopeDistributions are the distributions of the standardised logarithm of the
// envelope in the four states.
type envelopeDistributions struct {
	S1       gaussian `json:"s1"`
	Systole  gaussian `json:"systole"`
	S2       gaussian `json:"s2"`
	Diastole gaussian `json:"diastole"`
}

// gaussian is a normal distribution.
type gaussian struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

// logDensity returns the log of the density at x, without −ln √2π.
func (g gaussian) logDensity(x float64) float64 {
	z := (x - g.Mean) / g.SD
	return -z*z/2 - math.Log(g.SD)
}

func (e envelopeDistributions) check() error {
	// The observation is standardised: its mean is 0 and its SD 1.
	var values []valueRange
	for j, g := range e.states() {
		name := "emission." + strings.ToLower(pcg.Cycle[j].String())
		values = append(values, valueRange{name + ".mean", g.Mean, -100, 100}, valueRange{name + ".sd", g.SD, 0.001, 100})
	}
	return checkRanges(values...)
}

func (e envelopeDistributions) states() [4]gaussian {
	return [4]gaussian{e.S1, e.Systole, e.S2, e.Diastole}
}

// durationModel is what fitting duration-hmm estimates. Sojourns stay those
// of the paper.
type durationModel struct {
	Emission envelopeDistributions `json:"emission"`
}

func (m *durationModel) check() error { return m.Emission.check() }

// fitDurationHMM is the Fit of the method duration-hmm.
func fitDurationHMM(ctx context.Context, _ any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	distributions, err := estimateEnvelopeDistributions(usable(ctx, examples, new(int)))
	if err != nil {
		return nil, err
	}
	for j, g := range distributions.states() {
		how.say("%v: mean %.3f, SD %.3f", pcg.Cycle[j], g.Mean, g.SD)
	}
	return json.Marshal(durationModel{distributions})
}

// estimateEnvelopeDistributions estimates the emissions of duration-hmm: mean and
// standard deviation of the observation over all frames of each state.
func estimateEnvelopeDistributions(examples iter.Seq2[Example, error]) (envelopeDistributions, error) {
	var (
		n, sum, squares [4]float64
		envelope        []float64
	)
	f := newFrontEnd()
	wave := signal.NewWaveform(nil)
	for e, err := range examples {
		if err != nil {
			return envelopeDistributions{}, err
		}
		wave.Set(e.X)
		if err := f.load(wave); err != nil {
			return envelopeDistributions{}, err
		}
		envelope = f.homomorphicFrames(envelope)
		standardLog(envelope)
		for t, s := range annotatedFrames(len(envelope), e.Reference.Intervals) {
			j := s - pcg.S1
			n[j]++
			sum[j] += envelope[t]
			squares[j] += envelope[t] * envelope[t]
		}
	}
	var g [4]gaussian
	for j := range g {
		if n[j] < 2 {
			return envelopeDistributions{}, fmt.Errorf("%w: %.0f frames of %v", errFewCycles, n[j], pcg.Cycle[j])
		}
		mean := sum[j] / n[j]
		g[j] = gaussian{Mean: mean, SD: math.Sqrt(squares[j]/n[j] - mean*mean)}
	}
	return envelopeDistributions{S1: g[0], Systole: g[1], S2: g[2], Diastole: g[3]}, nil
}
