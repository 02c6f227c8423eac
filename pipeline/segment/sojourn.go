package segment

import (
	"fmt"
	"math"
)

// Hypothesis is a supposed rhythm of a recording, in seconds: the time from
// one S1 to the next, and that from the onset of S1 to the onset of S2, zero
// where a timing has no use for it.
type Hypothesis struct {
	Cycle   float64
	Systole float64
}

// Timing gives the sojourn laws under a hypothesis.
type Timing interface {
	// Laws fills dst for frames of 1/FrameRate seconds.
	Laws(dst *Laws, h Hypothesis)
}

// SetGaussian makes l a Gaussian law with the given mean and standard
// deviation in frames, cut at low and high: the probability of d frames is the
// mass of [d − ½, d + ½), normalised over the whole numbers d ≥ 1 within
// [low, high], or that nearest to the mean if there is none.
func (l *Law) SetGaussian(mean, sd, low, high float64) {
	from := max(1, int(math.Ceil(low)))
	to := int(math.Floor(high))
	if to < from {
		from = max(1, int(math.Round(mean)))
		to = from
	}
	l.weights = l.weights[:0]
	total := 0.0
	for d := from; d <= to; d++ {
		w := normalMass((float64(d)-0.5-mean)/sd, (float64(d)+0.5-mean)/sd)
		l.weights = append(l.weights, w)
		total += w
	}
	if total == 0 { // all of the support lies in a far tail
		l.weights = append(l.weights[:0], 1)
		if mean > float64(to) {
			from = to
		}
	}
	l.Set(from, l.weights)
}

// normalMass returns Φ(b) − Φ(a) for a ≤ b, without cancellation in the
// tails.
func normalMass(a, b float64) float64 {
	if a > 0 {
		a, b = -b, -a
	}
	return 0.5 * (math.Erfc(-b/math.Sqrt2) - math.Erfc(-a/math.Sqrt2))
}

// PublishedTiming holds the sojourn laws of Schmidt et al. 2010 (Physiol Meas
// 31:513, doi 10.1088/0967-3334/31/4/004), Gaussian, in seconds. The sounds
// have fixed laws; the silences fill what the hypothesis leaves:
//
//	systole   mean = systolic interval − S1,           SD = SystoleSD
//	diastole  mean = cycle − systolic interval − S2,   SD = DiastoleShare·mean + DiastoleSD
//
// The sounds and diastole are cut at three standard deviations, systole at
// three times the sum of its own and that of S1.
type PublishedTiming struct {
	S1            float64 `yaml:"s1-s" json:"s1_s"`
	S1SD          float64 `yaml:"s1-sd-s" json:"s1_sd_s"`
	S2            float64 `yaml:"s2-s" json:"s2_s"`
	S2SD          float64 `yaml:"s2-sd-s" json:"s2_sd_s"`
	SystoleSD     float64 `yaml:"systole-sd-s" json:"systole_sd_s"`
	DiastoleShare float64 `yaml:"diastole-sd-share" json:"diastole_sd_share"`
	DiastoleSD    float64 `yaml:"diastole-sd-s" json:"diastole_sd_s"`
}

// SchmidtTiming returns the constants of the paper (from memory, medium
// confidence).
func SchmidtTiming() PublishedTiming {
	return PublishedTiming{
		S1: 0.122, S1SD: 0.022,
		S2: 0.092, S2SD: 0.022,
		SystoleSD:     0.025,
		DiastoleShare: 0.07, DiastoleSD: 0.006,
	}
}

func (p PublishedTiming) check() error {
	for _, v := range []float64{p.S1, p.S1SD, p.S2, p.S2SD, p.SystoleSD, p.DiastoleShare + p.DiastoleSD} {
		if !(v > 0 && v < 1) {
			return fmt.Errorf("sojourn laws: %+v: want seconds between 0 and 1", p)
		}
	}
	return nil
}

// cutAt is the number of standard deviations at which sojourn laws are cut.
const cutAt = 3

// Laws implements Timing.
func (p PublishedTiming) Laws(dst *Laws, h Hypothesis) {
	const f = FrameRate
	systole := math.Max(h.Systole-p.S1, 1.0/f)
	diastole := math.Max(h.Cycle-h.Systole-p.S2, 1.0/f)
	diastoleSD := p.DiastoleShare*diastole + p.DiastoleSD
	set := func(l *Law, mean, sd, reach float64) {
		l.SetGaussian(mean*f, sd*f, (mean-reach)*f, (mean+reach)*f)
	}
	set(&dst[0], p.S1, p.S1SD, cutAt*p.S1SD)
	set(&dst[1], systole, p.SystoleSD, cutAt*(p.SystoleSD+p.S1SD))
	set(&dst[2], p.S2, p.S2SD, cutAt*p.S2SD)
	set(&dst[3], diastole, diastoleSD, cutAt*diastoleSD)
}
