package segment

import (
	"math"

	"phonocycle/pipeline/segment/hsmm"
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
	S1            float64 `yaml:"s1-s" json:"s1_s"`
	S1SD          float64 `yaml:"s1-sd-s" json:"s1_sd_s"`
	S2            float64 `yaml:"s2-s" json:"s2_s"`
	S2SD          float64 `yaml:"s2-sd-s" json:"s2_sd_s"`
	SystoleSD     float64 `yaml:"systole-sd-s" json:"systole_sd_s"`
	DiastoleShare float64 `yaml:"diastole-sd-share" json:"diastole_sd_share"`
	DiastoleSD    float64 `yaml:"diastole-sd-s" json:"diastole_sd_s"`
}

// schmidtSojourns returns the constants of the paper (from memory, medium
// confidence).
func schmidtSojourns() publishedSojourns {
	return publishedSojourns{
		S1: 0.122, S1SD: 0.022,
		S2: 0.092, S2SD: 0.022,
		SystoleSD:     0.025,
		DiastoleShare: 0.07, DiastoleSD: 0.006,
	}
}

func (p publishedSojourns) check() error {
	return checkRanges(
		valueRange{"timing.s1-s", p.S1, leastSojournSD, 1}, valueRange{"timing.s1-sd-s", p.S1SD, leastSojournSD, mostSojournSD},
		valueRange{"timing.s2-s", p.S2, leastSojournSD, 1}, valueRange{"timing.s2-sd-s", p.S2SD, leastSojournSD, mostSojournSD},
		valueRange{"timing.systole-sd-s", p.SystoleSD, leastSojournSD, mostSojournSD},
		valueRange{"timing.diastole-sd-share", p.DiastoleShare, 0, 1},
		valueRange{"timing.diastole-sd-s", p.DiastoleSD, 0, mostSojournSD},
		valueRange{"timing.diastole-sd-share plus timing.diastole-sd-s", p.DiastoleShare + p.DiastoleSD, leastSojournSD, 1},
	)
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
