package segment

import (
	"fmt"
	"math"

	"phonocycle/pipeline/segment/hsmm"
	"phonocycle/pipeline/segment/option"
)

// publishedSojourns are the sojourn distributions of Schmidt et al. 2010 (Physiol
// Meas 31:513, doi 10.1088/0967-3334/31/4/004), Gaussian, in seconds. The sounds
// have fixed distributions; the silences fill what the rhythm leaves:
//
//	systole   mean = systolic interval − S1,           SD = SystoleSD
//	diastole  mean = cycle − systolic interval − S2,   SD = DiastoleShare·mean + DiastoleSD
//
// Each is cut at three standard deviations. Print says so of the sounds and of
// diastole (from memory, medium confidence); how wide the cut of systole is in the
// paper we do not know.
type publishedSojourns struct {
	S1            float64 `yaml:"s1-s"`
	S1SD          float64 `yaml:"s1-sd-s"`
	S2            float64 `yaml:"s2-s"`
	S2SD          float64 `yaml:"s2-sd-s"`
	SystoleSD     float64 `yaml:"systole-sd-s"`
	DiastoleShare float64 `yaml:"diastole-sd-share"`
	DiastoleSD    float64 `yaml:"diastole-sd-s"`
}

// schmidtSojourns returns the constants of the paper.
func schmidtSojourns() publishedSojourns {
	return publishedSojourns{
		S1: 0.122, S1SD: 0.022,
		S2: 0.092, S2SD: 0.022,
		SystoleSD:     0.025,
		DiastoleShare: 0.07, DiastoleSD: 0.006,
	}
}

// options describes the distributions.
func (p *publishedSojourns) options() []option.Option {
	paper := schmidtSojourns()
	duration := func(key string, value *float64, about, confidence string, paper float64) option.Option {
		return option.Option{
			Key: key, Value: value, About: about, Unit: "s", Low: leastSojournSD, High: mostSojournSD,
			Paper: paper, Source: option.FromMemory("Schmidt et al. 2010", confidence),
		}
	}
	share := duration("diastole-sd-share", &p.DiastoleShare, "SD of the duration of diastole, as a share of its mean", "medium", paper.DiastoleShare)
	share.Unit, share.Low, share.High = "", 0, 1
	constant := duration("diastole-sd-s", &p.DiastoleSD, "Constant part of the SD of the duration of diastole", "medium", paper.DiastoleSD)
	constant.Low, constant.High = max(0, leastSojournSD-p.DiastoleShare), mostSojournSD-p.DiastoleShare
	constant.Limit = fmt.Sprintf("0 to %d less timing.diastole-sd-share, and not 0 if that is", mostSojournSD)
	return option.Under("timing", []option.Option{
		duration("s1-s", &p.S1, "Mean duration of S1", "medium", paper.S1),
		duration("s1-sd-s", &p.S1SD, "SD of the duration of S1", "medium", paper.S1SD),
		duration("s2-s", &p.S2, "Mean duration of S2", "medium", paper.S2),
		duration("s2-sd-s", &p.S2SD, "SD of the duration of S2", "medium", paper.S2SD),
		duration("systole-sd-s", &p.SystoleSD, "SD of the duration of systole", "low", paper.SystoleSD),
		share, constant,
	})
}

// publishedCut is the number of standard deviations at which the distributions
// are cut.
const publishedCut = 3

// set fills dst with the distributions under a rhythm.
func (p publishedSojourns) set(dst *hsmm.Sojourns, r rhythm) {
	systole := math.Max(r.systole-p.S1, 1.0/frameRate)
	diastole := math.Max(r.cycle-r.systole-p.S2, 1.0/frameRate)
	diastoleSD := p.DiastoleShare*diastole + p.DiastoleSD
	set := func(s *hsmm.SojournDistribution, mean, sd float64) {
		s.SetGaussian(mean*frameRate, sd*frameRate, (mean-publishedCut*sd)*frameRate, (mean+publishedCut*sd)*frameRate)
	}
	set(&dst[0], p.S1, p.S1SD)
	set(&dst[1], systole, p.SystoleSD)
	set(&dst[2], p.S2, p.S2SD)
	set(&dst[3], diastole, diastoleSD)
}
