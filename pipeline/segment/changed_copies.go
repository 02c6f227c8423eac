package segment

import (
	"context"
	"fmt"
	"hash/fnv"
	"iter"
	"math"
	"math/rand/v2"
	"slices"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/synth/noise"
)

// changedCopies says which changed copies of each recording a fit learns from,
// beside the recording as it is. Each copy has noise of a colour and a level that
// are drawn at random; some have a limited band too. The changes are conditions of
// package degrade, where their formulas stand.
//
// A method that learns from copies in noise holds in noise: Bishop 1995, Training
// with noise is equivalent to Tikhonov regularization, Neural Computation 7:108, doi
// 10.1162/neco.1995.7.1.108 (from memory).
type changedCopies struct {
	Number      int     `yaml:"number"`
	LowestSNR   float64 `yaml:"lowest-snr-db"`
	HighestSNR  float64 `yaml:"highest-snr-db"`
	BandLimited float64 `yaml:"band-limited"`
	Share       float64 `yaml:"share"`
}

// maxCopies bounds Number, so that a mistyped number does not ask for all memory.
const maxCopies = 100

// options describes the copies.
func (c *changedCopies) options() []option.Option {
	return option.Under("copies", []option.Option{
		{Key: "number", Value: &c.Number, About: "Number of changed copies of each recording to learn from, beside the recording itself", Low: 0, High: maxCopies, Default: "Four and three serve; more take time"},
		{Key: "lowest-snr-db", Value: &c.LowestSNR, About: "Lowest signal-to-noise ratio of the copies", Unit: "dB", Low: -60, High: 100, Default: bestInFolds},
		{
			Key: "highest-snr-db", Value: &c.HighestSNR, About: "Highest signal-to-noise ratio of the copies", Unit: "dB", Low: c.LowestSNR, High: 100,
			Limit: "copies.lowest-snr-db to 100", Default: bestInFolds,
		},
		{Key: "band-limited", Value: &c.BandLimited, About: "Share of the copies in which the low or the high frequencies are cut", Low: 0, High: 1, Default: "Chosen beforehand; no other was tried"},
		{Key: "share", Value: &c.Share, About: "Share of what is learnt that comes from the copies, where there are any", Low: 0, High: 0.999, Default: bestInFolds},
	})
}

// Frequencies in hertz from which the cuts of the copies are drawn, by logarithm: the
// low ones are those of microphones, the high ones those of filters in stethoscopes
// and of low sampling rates.
var (
	lowCuts  = [2]float64{20, 60}
	highCuts = [2]float64{100, 400}
)

// condition draws the change of copy k of a recording. The levels of the copies lie
// in equal parts of the range, so that each recording is heard at all of them.
func (c *changedCopies) condition(recording string, k int, seed uint64) string {
	h := fnv.New64a()
	fmt.Fprintf(h, "%q %d", recording, k)
	rng := rand.New(rand.NewPCG(seed, h.Sum64()))
	colours := noise.Colours()
	snr := c.LowestSNR + (c.HighestSNR-c.LowestSNR)*(float64(k)+rng.Float64())/float64(c.Number)
	text := fmt.Sprintf("noise=%s,snr=%.2f", colours[rng.IntN(len(colours))], snr)
	if rng.Float64() >= c.BandLimited {
		return text
	}
	key, cuts := "low-cut", lowCuts
	if rng.IntN(2) == 1 {
		key, cuts = "high-cut", highCuts
	}
	return fmt.Sprintf("%s,%s=%.1f", text, key, cuts[0]*math.Pow(cuts[1]/cuts[0], rng.Float64()))
}

// make returns copy k of x, samples at signal.AnalysisRate. The same recording and
// seed have the same copies in any company.
func (c *changedCopies) make(recording string, x []float64, k int, seed uint64) ([]float64, error) {
	condition, err := degrade.Parse(c.condition(recording, k, seed))
	if err != nil {
		return nil, fmt.Errorf("copy %d of recording %s: %w", k+1, recording, err)
	}
	// More than 16 bits: samples are rounded to 32-bit floats, in any unit. With k as the
	// number of changes before, each copy has noise of its own.
	clip := &audio.Clip{Samples: slices.Clone(x), Frames: len(x), Rate: signal.AnalysisRate, BitsPerSample: 32}
	changed, _, err := degrade.NewDegrader(condition, seed).Change(clip, recording, k)
	if err != nil {
		return nil, fmt.Errorf("copy %d of recording %s: %w", k+1, recording, err)
	}
	return changed.Samples, nil
}

// measureAll applies measure to the examples on the given number of goroutines, each
// with a measurer of its own, and returns the results in the order of the examples.
func measureAll[M, T any](workers int, examples iter.Seq2[Example, error], measurer func() M, measure func(M, *Example) (T, error)) ([]T, error) {
	var results []*T
	group, ctx := errgroup.WithContext(context.Background())
	workers = max(1, workers)
	group.SetLimit(workers)
	idle := make(chan M, workers)
	for range workers {
		idle <- measurer()
	}
	var stop error
	for e, err := range examples {
		if err != nil || ctx.Err() != nil { // of an example, or of measuring one before
			stop = err
			break
		}
		r := new(T)
		results = append(results, r)
		group.Go(func() (err error) {
			m := <-idle
			*r, err = measure(m, &e)
			idle <- m
			return err
		})
	}
	if err := group.Wait(); stop == nil {
		stop = err
	}
	if stop != nil {
		return nil, stop
	}
	values := make([]T, len(results))
	for i, r := range results {
		values[i] = *r
	}
	return values, nil
}
