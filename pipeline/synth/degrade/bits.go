package degrade

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Bounds of the bits of a sample. More than 16 are no fewer than recordings have.
const (
	minBits = 2
	maxBits = 16
)

var bitsKind = kind{key: "bits", example: "bits=8", make: func(value, _ string) (change, error) {
	bits, err := whole("bits", value, minBits, maxBits, "the bits of a sample, a whole number")
	return fewerBits(bits), err
}}

// fewerBits is a number of bits.
type fewerBits int

func (b fewerBits) String() string { return fmt.Sprintf("bits=%d", int(b)) }

func (b fewerBits) apply(_ *workspace, x []float64, rate int, _ *rand.Rand) ([]float64, int, error) {
	steps := math.Ldexp(1, int(b)-1) // from 0 to full scale
	for i, v := range x {
		x[i] = max(-steps, min(math.Round(v*steps), steps-1)) / steps
	}
	return x, rate, nil
}
