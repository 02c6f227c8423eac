package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"phonocycle/pipeline/pcg"
)

// Shape is how the loudness of a murmur runs from its beginning to its end.
type Shape string

// The shapes in which murmurs are described at the bedside. Each is a function
// w(u) with values in [0, 1] of the time u in [0, 1] from beginning to end.
const (
	CrescendoDecrescendo Shape = "crescendo-decrescendo" // sin(πu), as of flow through a narrow outlet
	Plateau              Shape = "plateau"               // 1, with a tenth at each end for rise and fall
	Decrescendo          Shape = "decrescendo"           // a tenth for the rise, then straight down to 0
	Crescendo            Shape = "crescendo"             // the decrescendo run backwards
)

// Shapes lists the shapes.
func Shapes() []Shape { return []Shape{CrescendoDecrescendo, Plateau, Decrescendo, Crescendo} }

// at returns w(u); zero outside [0, 1].
func (s Shape) at(u float64) float64 {
	if u < 0 || u > 1 {
		return 0
	}
	switch s {
	case CrescendoDecrescendo:
		return math.Sin(math.Pi * u)
	case Plateau:
		return smooth(u/flank) * smooth((1-u)/flank)
	case Decrescendo:
		return smooth(u/flank) * min(1, (1-u)/(1-flank))
	case Crescendo:
		return Decrescendo.at(1 - u)
	}
	return 0
}

// A Murmur is the sound of turbulent flow: Gaussian noise limited to a band and
// shaped over systole or diastole. Dominant frequencies of 130 to 410 Hz were
// measured by Donnerstein 1989 (Am J Cardiol 64:625); a low rumble over
// diastole stays below about 100 Hz (common textbook value).
type Murmur struct {
	State     pcg.State // pcg.Systole or pcg.Diastole: the silence that it fills
	From, To  float64   // where in the state it begins and ends, as fractions of it
	Shape     Shape
	Low, High float64 // edges of the band in hertz
	Level     float64 // root mean square where the shape is 1, as a fraction of full scale
}

func (m Murmur) check(rate int) error {
	if m.State != pcg.Systole && m.State != pcg.Diastole {
		return fmt.Errorf("state %v is not systole or diastole", m.State)
	}
	if !(m.From >= 0 && m.From < m.To && m.To <= 1) {
		return fmt.Errorf("extent %g to %g is not within 0 to 1 of %v", m.From, m.To, m.State)
	}
	if !slices.Contains(Shapes(), m.Shape) {
		return fmt.Errorf("unknown shape %q: want one of %v", m.Shape, Shapes())
	}
	if !(m.Low > 0 && m.Low < m.High && m.High < float64(rate)/2) {
		return fmt.Errorf("band %g to %g Hz does not lie between 0 and half the sampling rate of %d Hz", m.Low, m.High, rate)
	}
	if !(m.Level > 0) || math.IsInf(m.Level, 0) {
		return fmt.Errorf("level %g is not a positive number", m.Level)
	}
	return nil
}

// addTo adds the murmur to x in each beat.
func (m Murmur) addTo(x []float64, rate int, beats []Beat, rng *rand.Rand) {
	noise := bandNoise(len(x), rate, m.Low, m.High, rng)
	fs := float64(rate)
	for _, b := range beats {
		if b.Kind == MissedBeat {
			continue
		}
		from, to := b.S1.End.Seconds(), b.S2.Start.Seconds()
		if m.State == pcg.Diastole {
			from, to = b.S2.End.Seconds(), b.Next.Seconds()
		}
		from, to = from+m.From*(to-from), from+m.To*(to-from)
		first := max(0, int(math.Ceil(from*fs)))
		last := min(len(x), int(math.Ceil(to*fs)))
		for n := first; n < last; n++ {
			u := (float64(n)/fs - from) / (to - from)
			x[n] += m.Level * m.Shape.at(u) * noise[n]
		}
	}
}
