package features

import (
	"math"

	"phonocycle/pipeline/pcg"
)

const (
	ofSilence     = "the state is shorter than 2 ms or silent (RMS of y below 1e-9 FS)"
	ofSilentOther = "one of the two states is shorter than 2 ms or silent (RMS of y below 1e-9 FS)"
)

// level is what is measured of the amplitudes of one state.
type level struct {
	meanAbs, meanSquare, peak float64
	moments                   moments
}

func levelOf(y []float64) level {
	var l level
	for _, v := range y {
		a := math.Abs(v)
		l.meanAbs += a
		l.meanSquare += v * v
		l.peak = math.Max(l.peak, a)
	}
	n := float64(len(y))
	l.meanAbs /= n
	l.meanSquare /= n
	l.moments = momentsOf(y)
	return l
}

func (l *level) rms() float64 { return math.Sqrt(l.meanSquare) }

// amplitudeFeatures are measured on y, the signal band-limited to 25 to 400 Hz.
func amplitudeFeatures() []Feature {
	rows := []Feature{
		{
			Name: "systole_to_s1_amplitude_percent", Unit: "%", Source: liu2016,
			Definition: "100 · mean |y| in systole / mean |y| in S1",
			ofCycle:    func(c *cycle) float64 { return 100 * meanAbsRatio(c, systole, s1) },
		},
		{
			Name: "diastole_to_s2_amplitude_percent", Unit: "%", Source: liu2016,
			Definition: "100 · mean |y| in diastole / mean |y| in S2",
			ofCycle:    func(c *cycle) float64 { return 100 * meanAbsRatio(c, diastole, s2) },
		},
	}
	for i := range rows {
		rows[i].Range, rows[i].Null, rows[i].Statistics = "> 0", ofSilentOther, Four
	}
	for i, s := range pcg.Cycle {
		rows = append(rows, stateAmplitudes(i, s)...)
	}
	return rows
}

func meanAbsRatio(c *cycle, a, b int) float64 {
	if c.state[a].silent || c.state[b].silent {
		return math.NaN()
	}
	return c.state[a].level.meanAbs / c.state[b].level.meanAbs
}

// stateAmplitudes are the amplitude features of the i-th state of the cycle.
func stateAmplitudes(i int, s pcg.State) []Feature {
	rows := []Feature{
		{
			Name: prefix(s) + "rms_fs", Unit: "FS", Range: "≥ 0", Null: "the state is shorter than 2 ms", Scaling: Proportional,
			Definition: "√(mean y²) in " + s.String(),
			ofCycle:    func(c *cycle) float64 { return c.state[i].level.rms() },
		},
	}
	for k := range rows {
		rows[k].Source, rows[k].Statistics = "common practice", Four
	}
	return rows
}
