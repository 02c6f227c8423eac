package synth

import (
	"errors"
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
	SystoleVariation  float64 // standard deviation of systole, as a fraction
	LoudnessVariation float64 // standard deviation of the gain of each sound, as a fraction
	Breathing         Breathing

	M1, T1  Component     // S1: mitral, then tricuspid
	T1Delay time.Duration // from M1 to T1
	A2, P2  Component     // S2: aortic, then pulmonary; Breathing gives the delay
	S3      Component     // third sound; silent unless given a gain
	S3Delay time.Duration // from A2 to S3

	Murmurs []Murmur

	Premature float64 // probability that a beat comes early
	Coupling  float64 // from the beat before to a premature one, as a fraction of the mean cycle
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
		SystoleVariation:  0.008,
		LoudnessVariation: 0.08,
		Breathing: Breathing{
			Rate:             15,
			Swing:            0.03,
			SplitExpiration:  8 * time.Millisecond,
			SplitInspiration: 32 * time.Millisecond,
		},
		M1: Component{
			Gain: 0.30, Duration: 96 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{40, 1}, {80, 0.47}, {160, 0.22}},
		},
		T1: Component{
			Gain: 0.20, Duration: 96 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{45, 1}, {90, 0.47}},
		},
		T1Delay: 28 * time.Millisecond,
		A2: Component{
			Gain: 0.22, Duration: 78 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{60, 1}, {120, 0.7}, {200, 0.3}},
		},
		P2: Component{
			Gain: 0.12, Duration: 78 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{55, 1}, {110, 0.7}},
		},
		S3: Component{
			Duration: 80 * time.Millisecond, Rise: 0.35,
			Partials: []Partial{{30, 1}},
		},
		S3Delay:  140 * time.Millisecond,
		Coupling: 0.65,
		Seed:     seed,
	}
	shortest := math.Sqrt(float64(law.Systole(rate)) / float64(Exercise.Systole(120)))
	if shortest < 1 {
		h.M1 = h.M1.scaled(1, shortest)
		h.T1 = h.T1.scaled(1, shortest)
		h.A2 = h.A2.scaled(1, shortest)
		h.P2 = h.P2.scaled(1, shortest)
		h.T1Delay = stretch(h.T1Delay, shortest)
	}
	return h
}

// check reports the first field that cannot be rendered at the sampling rate.
func (h *Heart) check(rate int) error {
	if !(h.Rate >= MinRate && h.Rate <= MaxRate) {
		return fmt.Errorf("heart rate %g bpm is not between %d and %d", h.Rate, MinRate, MaxRate)
	}
	if err := h.Law.check(h.Rate); err != nil {
		return err
	}
	fractions := []struct {
		name       string
		value, top float64
	}{
		{"cycle variation", h.CycleVariation, 0.2},
		{"systole variation", h.SystoleVariation, 0.1},
		{"loudness variation", h.LoudnessVariation, 0.3},
		{"respiratory swing", h.Breathing.Swing, 0.3},
		{"probability of a premature beat", h.Premature, 1},
		{"probability of a missed beat", h.Missed, 1},
		{"coupling", h.Coupling, 1},
	}
	for _, f := range fractions {
		if !(f.value >= 0 && f.value <= f.top) {
			return fmt.Errorf("%s %g is not between 0 and %g", f.name, f.value, f.top)
		}
	}
	if b := h.Breathing; !(b.Rate >= 0 && b.Rate <= 120) {
		return fmt.Errorf("breathing rate %g per minute is not between 0 and 120", b.Rate)
	}
	if h.Breathing.SplitExpiration < 0 || h.Breathing.SplitInspiration < 0 || h.T1Delay < 0 || h.S3Delay < 0 {
		return errors.New("delays of T1, P2 and S3 must not be negative: the first component is the one that comes first")
	}
	for _, c := range h.components() {
		if err := c.check(rate); err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
	}
	if h.M1.Silent() || h.A2.Silent() {
		return errors.New("M1 and A2 must sound: without them S1 and S2 have no beginning")
	}
	for i, m := range h.Murmurs {
		if err := m.check(rate); err != nil {
			return fmt.Errorf("murmur %d: %w", i+1, err)
		}
	}
	return nil
}

type namedComponent struct {
	name string
	Component
}

func (h *Heart) components() []namedComponent {
	return []namedComponent{{"M1", h.M1}, {"T1", h.T1}, {"A2", h.A2}, {"P2", h.P2}, {"S3", h.S3}}
}
