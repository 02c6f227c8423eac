package synth

import (
	"fmt"
	"math"
	"time"
)

// The range of heart rates that can be rendered, in beats per minute: from
// below the first percentile of adolescents to above the 99th of infants
// (Fleming 2011, Lancet 377:1011).
const (
	MinRate = 40
	MaxRate = 220
)

// Breathing moves the length of the cycle and the split of S2.
type Breathing struct {
	Rate  float64 // breaths per minute
	Swing float64 // respiratory arrhythmia: the cycle changes by ± this fraction, shortest in inspiration

	// The delay of P2 after A2 at the end of each phase: below 20 ms in
	// expiration and 20 to 40 ms in inspiration in a healthy adult (common
	// textbook values). In between it follows the sine of breathing.
	SplitExpiration, SplitInspiration time.Duration
}

// A Heart is what sounds: one person's rhythm, valves and murmurs. Two hearts
// with equal fields sound alike to the last bit.
type Heart struct {
	Rate float64    // mean heart rate in beats per minute
	Law  SystoleLaw // from the beginning of S1 to the beginning of S2

	CycleVariation    float64 // standard deviation of the cycle beyond breathing, as a fraction of the mean
	systoleVariation  float64 // standard deviation of systole, as a fraction
	loudnessVariation float64 // standard deviation of the gain of each sound, as a fraction
	Breathing         Breathing

	m1, t1  Component     // S1: mitral, then tricuspid
	t1Delay time.Duration // from M1 to T1
	a2, p2  Component     // S2: aortic, then pulmonary; Breathing gives the delay
	s3      Component     // third sound; silent unless given a gain
	s3Delay time.Duration // from A2 to S3

	Murmurs []Murmur

	Premature float64 // probability that a beat comes early
	coupling  float64 // from the beat before to a premature one, as a fraction of the mean cycle
	Missed    float64 // probability that a beat does not come

	Seed uint64
}

// NewHeart returns a healthy heart at rest with the given mean rate in beats per
// minute, for further changes.
//
// The sounds last as measured in adults: S1 70 to 150 ms, S2 60 to 120 ms
// (common practice; Schmidt 2010, doi 10.1088/0967-3334/31/4/004, found means of
// 122 and 92 ms). Their lowest partials, 40 and 60 Hz, are the loudest, and the
// higher ones fall by about 6.5 dB an octave for S1, less for S2 (Sakai 1971,
// Cardiovasc Res 5:358), so that S2 is the higher pitched of the two. Where
// systole is shorter than it is at 120 bpm the sounds shorten with its square
// root, a rule of ours that leaves room between them up to MaxRate.
func NewHeart(rate float64, law SystoleLaw, seed uint64) Heart {
	h := Heart{
		Rate:              rate,
		Law:               law,
		CycleVariation:    0.015,
		systoleVariation:  0.008,
		loudnessVariation: 0.08,
		Breathing: Breathing{
			Rate:             15,
			Swing:            0.03,
			SplitExpiration:  8 * time.Millisecond,
			SplitInspiration: 32 * time.Millisecond,
		},
		m1: Component{
			Gain: 0.30, Duration: 96 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{40, 1}, {80, 0.47}, {160, 0.22}},
		},
		t1: Component{
			Gain: 0.20, Duration: 96 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{45, 1}, {90, 0.47}},
		},
		t1Delay: 28 * time.Millisecond,
		a2: Component{
			Gain: 0.22, Duration: 78 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{60, 1}, {120, 0.7}, {200, 0.3}},
		},
		p2: Component{
			Gain: 0.12, Duration: 78 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{55, 1}, {110, 0.7}},
		},
		s3: Component{
			Duration: 80 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{30, 1}},
		},
		s3Delay:  140 * time.Millisecond,
		coupling: 0.65,
		Seed:     seed,
	}
	shortest := math.Sqrt(float64(law.Systole(rate)) / float64(Exercise.Systole(120)))
	if shortest < 1 {
		for _, c := range []*Component{&h.m1, &h.t1, &h.a2, &h.p2} {
			c.Duration = stretch(c.Duration, shortest)
		}
		h.t1Delay = stretch(h.t1Delay, shortest)
	}
	return h
}

// check reports the first field of those that a scenario sets that cannot be
// rendered at the sampling rate.
func (h *Heart) check(rate int) error {
	for _, f := range []struct {
		name                string
		value, bottom, most float64
	}{
		{"heart rate (bpm)", h.Rate, MinRate, MaxRate},
		{"cycle variation", h.CycleVariation, 0, 0.2},
		{"respiratory swing", h.Breathing.Swing, 0, 0.3},
		{"breaths per minute", h.Breathing.Rate, 0, 120},
		{"probability of a premature beat", h.Premature, 0, 1},
		{"probability of a missed beat", h.Missed, 0, 1},
	} {
		if !(f.value >= f.bottom && f.value <= f.most) {
			return fmt.Errorf("%s %g is not between %g and %g", f.name, f.value, f.bottom, f.most)
		}
	}
	for _, c := range h.components() {
		for _, p := range c.Partials {
			if !(p.Frequency > 0 && p.Frequency < float64(rate)/2) {
				return fmt.Errorf("sound of %g Hz is not between 0 and half the sampling rate of %d Hz", p.Frequency, rate)
			}
		}
	}
	for i, m := range h.Murmurs {
		if err := m.check(rate); err != nil {
			return fmt.Errorf("murmur %d: %w", i+1, err)
		}
	}
	return nil
}

// components lists M1, T1, A2, P2 and S3.
func (h *Heart) components() []*Component {
	return []*Component{&h.m1, &h.t1, &h.a2, &h.p2, &h.s3}
}
