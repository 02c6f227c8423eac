package eval

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// NoiseSeries is the conditions of a study that differ in the level of the noise
// alone, from the loudest noise to the faintest.
type NoiseSeries struct {
	Noise  string // the condition without its level, as in "noise=pink"
	Levels []NoiseLevel
}

// NoiseLevel is one of the conditions of a series.
type NoiseLevel struct {
	Condition string
	SNR       float64 // dB
}

// NoiseSeries returns the conditions with noise by its kind, in the order of the
// header, and all others apart, without the audio as it is. A kind with one level
// makes no curve and stands with the others.
func (h *StudyHeader) NoiseSeries() (series []NoiseSeries, others []string) {
	for _, condition := range h.Conditions {
		noise, snr, ok := splitNoise(condition)
		if !ok {
			continue
		}
		at := slices.IndexFunc(series, func(s NoiseSeries) bool { return s.Noise == noise })
		if at < 0 {
			at = len(series)
			series = append(series, NoiseSeries{Noise: noise})
		}
		series[at].Levels = append(series[at].Levels, NoiseLevel{condition, snr})
	}
	series = slices.DeleteFunc(series, func(s NoiseSeries) bool { return len(s.Levels) < 2 })
	for i := range series {
		slices.SortStableFunc(series[i].Levels, func(a, b NoiseLevel) int { return cmp.Compare(a.SNR, b.SNR) })
	}
	for _, condition := range h.Conditions {
		if condition != "" && !slices.ContainsFunc(series, func(s NoiseSeries) bool {
			return slices.ContainsFunc(s.Levels, func(l NoiseLevel) bool { return l.Condition == condition })
		}) {
			others = append(others, condition)
		}
	}
	return series, others
}

// splitNoise takes the signal-to-noise ratio in dB out of a condition, such as
// "noise=pink,snr=10". ok is false where it has none or several.
func splitNoise(condition string) (noise string, snr float64, ok bool) {
	var rest []string
	for part := range strings.SplitSeq(condition, ",") {
		text, is := strings.CutPrefix(part, "snr=")
		if !is {
			rest = append(rest, part)
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || ok {
			return "", 0, false
		}
		snr, ok = v, true
	}
	return strings.Join(rest, ","), snr, ok
}
