package degrade

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	"phonocycle/pipeline/synth/noise"
)

// Bounds of a signal-to-noise ratio in decibels.
const (
	minSNR = -60
	maxSNR = 100
)

var noiseKind = kind{key: "noise", more: "snr", example: "noise=pink,snr=5", make: func(source, snr string) (change, error) {
	n := &addedNoise{}
	if c := noise.Colour(source); slices.Contains(noise.Colours(), c) {
		n.colour = c
	} else {
		n.recorded = &recordedNoise{folder: source}
	}
	var err error
	n.snr, err = number("snr", snr, minSNR, maxSNR, "the signal-to-noise ratio in dB,")
	return n, err
}}

// addedNoise adds noise of a colour, or recorded noise.
type addedNoise struct {
	colour   noise.Colour
	recorded *recordedNoise // in place of a colour
	snr      float64        // in decibels
}

func (n *addedNoise) String() string {
	source := string(n.colour)
	if n.recorded != nil {
		source = n.recorded.name()
	}
	return "noise=" + source + ",snr=" + shortest(n.snr)
}

// errSilentNoise says that recorded noise cannot be brought to a level.
var errSilentNoise = errors.New("the section of recorded noise has no power between 25 and 400 Hz: remove silent files from the folder")

func (n *addedNoise) apply(w *workspace, x []float64, rate int, rng *rand.Rand) ([]float64, int, error) {
	signalPower := w.medianPower(x, rate)
	if signalPower == 0 {
		return x, rate, nil
	}
	var v []float64
	switch {
	case n.recorded != nil:
		v = n.recorded.section(w, len(x), rate, rng)
	case n.colour == noise.White:
		v = w.generator.White(len(x), rng)
	default:
		v = w.generator.Shaped(len(x), rate, rng, n.colour.Gain)
	}
	noisePower := noise.Power(w.band(v, rate))
	if noisePower == 0 {
		return nil, 0, errSilentNoise
	}
	gain := math.Sqrt(signalPower / noisePower * math.Pow(10, -n.snr/10))
	for i, u := range v {
		x[i] += gain * u
	}
	return x, rate, nil
}
