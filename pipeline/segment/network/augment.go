package network

import (
	"math"
	"math/rand/v2"

	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/simd"
)

// augmentation says how much a window is changed, at random, before it is learnt
// from. The zero value changes nothing but the place between two frames at which
// the window begins. Levels are in the units of the input, FrontEndOptions.Scale
// natural logarithms of energy.
type augmentation struct {
	Margin  int     `yaml:"margin-frames"`
	Stretch float64 `yaml:"stretch"`
	Tilt    float64 `yaml:"tilt"`
	Gain    float64 `yaml:"gain"`
	Noise   float64 `yaml:"noise"`
	Jitter  float64 `yaml:"jitter"`
}

// options describes the changes.
func (a *augmentation) options() []option.Option {
	return option.Under("augmentation", []option.Option{
		{Key: "margin-frames", Value: &a.Margin, About: "Longest context before and after what is annotated", Unit: "frames", Low: 0, High: maxFrames},
		{
			Key: "stretch", Value: &a.Stretch, About: "Largest share by which time runs faster or slower", Low: 0, High: 0.999,
			Default: "Hearts at 60 to 160 beats a minute, as the recordings of CirCor have them, then reach from 40 to 216",
		},
		{Key: "tilt", Value: &a.Tilt, About: "SD of a gain that goes linearly from its negative at the lowest band to itself at the highest", Low: 0, High: maxAugmentation},
		{Key: "gain", Value: &a.Gain, About: "SD of a gain of each band", Low: 0, High: maxAugmentation},
		{Key: "noise", Value: &a.Noise, About: "Share of windows to which stationary noise is added", Low: 0, High: 1},
		{Key: "jitter", Value: &a.Jitter, About: "SD of independent noise on each value", Low: 0, High: maxAugmentation},
	})
}

// Added noise has, in each band, a level drawn around the band's median: its
// natural logarithm relative to the median energy is noiseLevel plus a normal
// of SD noiseLevelSD, plus a tilt over the bands of the same SD, so that it
// is white, or a rumble, or a hiss.
const (
	noiseLevel   = -0.5
	noiseLevelSD = 1.5
)

// prepare fills p's input with window w of example e, heard in its input or a copy,
// placed and changed at random, and returns its labels, for which it may use the
// given slice. The numbers it draws from rng depend on nothing but w and a.
func (a augmentation) prepare(p *Pass, labels []int8, e *Example, from Matrix, w window, scale float64, rng *rand.Rand) []int8 {
	stretch := 1 + a.Stretch*(2*rng.Float64()-1)
	start := max(0, w.start-rng.Float64()*float64(a.Margin)) + rng.Float64()
	end := min(float64(e.Frames), w.end+rng.Float64()*float64(a.Margin))
	frames := max(1, int((end-start)/stretch))
	in := p.Input(frames)
	labels = labels[:0]
	at := cursor{intervals: e.Intervals}
	for t := range frames {
		c := start + (float64(t)+0.5)*stretch
		label := at.label(c)
		if c < w.start || c >= w.end {
			label = unlabelled
		}
		labels = append(labels, label)
		interpolate(in, from, t, c)
	}
	a.colour(in, scale, rng)
	return labels
}

// colour changes the levels of the bands and adds noise.
func (a augmentation) colour(in Matrix, scale float64, rng *rand.Rand) {
	tilt := a.Tilt * rng.NormFloat64()
	noisy := rng.Float64() < a.Noise
	level := noiseLevel + noiseLevelSD*rng.NormFloat64()
	noiseTilt := noiseLevelSD * rng.NormFloat64()
	for b := range in.Rows {
		row := in.Data[b*in.Stride : b*in.Stride+in.Cols]
		place := 2*float64(b)/float64(max(1, in.Rows-1)) - 1
		if noisy {
			addNoise(row, math.Exp(level+noiseTilt*place), scale, rng)
		}
		gain := float32(tilt*place + a.Gain*rng.NormFloat64())
		for t := range row {
			row[t] += gain
		}
		if a.Jitter > 0 {
			for t := range row {
				row[t] += float32(a.Jitter * rng.NormFloat64())
			}
		}
	}
}

// addNoise adds noise of the given mean energy, relative to the median, to the
// energies whose logarithms, over scale, are in row, and takes the median back
// to zero. The energy of the noise in a frame fluctuates about its mean by
// 30 % of an Erlang law of two degrees, as the smoothed spectrum of a Gaussian
// noise does.
func addNoise(row []float32, energy, scale float64, rng *rand.Rand) {
	median := math.Log1p(energy)
	sums := make([]float64, len(row))
	for t, v := range row {
		sums[t] = float64(v) * scale
	}
	simd.Exp(sums, sums)
	for t := range sums {
		sums[t] += energy * (0.7 + 0.3*(rng.ExpFloat64()+rng.ExpFloat64())/2)
	}
	simd.Log(sums, sums)
	for t, v := range sums {
		row[t] = float32((v - median) / scale)
	}
}
