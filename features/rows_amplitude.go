package features

import (
	"fmt"
	"math"
	"strings"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/simd"
)

const (
	ofShort       = "the state is shorter than 2 ms"
	ofSilence     = "the state is shorter than 2 ms or silent (RMS of y below 1e-9 FS)"
	ofSilentOther = "one of the two states is shorter than 2 ms or silent (RMS of y below 1e-9 FS)"
	tenths        = 10
)

// amplitudeFeatures are measured on y, the signal band-limited to 25 to 400 Hz,
// and on its envelope A.
func amplitudeFeatures() []Feature {
	var rows []Feature
	for _, r := range []struct {
		name, quantity, source string
		a, b                   int
		of                     func(*level) float64
	}{
		{"amplitude_percent", "mean |y|", liu2016, systole, s1, func(l *level) float64 { return l.meanAbs }},
		{"amplitude_percent", "mean |y|", liu2016, diastole, s2, func(l *level) float64 { return l.meanAbs }},
		{"rms_ratio", "√(mean y²)", practice, s2, s1, (*level).rms},
		{"peak_ratio", "max |y|", practice, s2, s1, func(l *level) float64 { return l.peak }},
		{"rms_ratio", "√(mean y²)", practice, systole, s1, (*level).rms},
		{"rms_ratio", "√(mean y²)", practice, diastole, s2, (*level).rms},
		{"rms_ratio", "√(mean y²)", practice, systole, diastole, (*level).rms},
	} {
		a, b := pcg.Cycle[r.a], pcg.Cycle[r.b]
		unit, factor, times := "1", 1.0, ""
		if strings.HasSuffix(r.name, "_percent") {
			unit, factor, times = "%", 100, "100 · "
		}
		rows = append(rows, Feature{
			Name: prefix(a) + "to_" + prefix(b) + r.name, Unit: unit, Source: r.source,
			Definition: fmt.Sprintf("%s%s in %v / %s in %v", times, r.quantity, a, r.quantity, b),
			Range:      "> 0", Null: ofSilentOther, Statistics: Four,
			ofCycle: func(c *cycle) float64 {
				if c.state[r.a].silent || c.state[r.b].silent {
					return math.NaN()
				}
				return factor * (r.of(&c.state[r.a].level) / r.of(&c.state[r.b].level))
			},
		})
	}
	for i, s := range pcg.Cycle {
		rows = append(rows, stateAmplitudes(i, s)...)
	}
	rows = append(rows, envelopeShape(systole)...)
	return append(rows, envelopeShape(diastole)...)
}

// stateAmplitudes are the amplitude features of the i-th state of the cycle.
func stateAmplitudes(i int, s pcg.State) []Feature {
	in := " in " + s.String()
	rows := []Feature{
		{
			Name: "rms_fs", Unit: "FS", Range: "≥ 0", Null: ofShort, Scaling: Proportional,
			Definition: "√(mean y²)" + in,
			ofCycle:    func(c *cycle) float64 { return c.state[i].level.rms() },
		},
		{
			Name: "peak_fs", Unit: "FS", Range: "≥ 0", Null: ofShort, Scaling: Proportional,
			Definition: "max |y|" + in,
			ofCycle:    func(c *cycle) float64 { return c.state[i].level.peak },
		},
		{
			Name: "crest_ratio", Unit: "1", Range: "≥ 1",
			Definition: "max |y| / √(mean y²)" + in,
			ofCycle:    audible(i, func(s *state) float64 { return s.level.peak / s.level.rms() }),
		},
		{
			Name: "skewness", Unit: "1", Range: "any",
			Definition: "m₃ / m₂^(3/2), m_k = mean (y − mean y)^k" + in + "; changes sign with the polarity of the sensor",
			ofCycle:    audible(i, func(s *state) float64 { return s.level.moments.skewness() }),
		},
		{
			Name: "kurtosis", Unit: "1", Range: "≥ 1",
			Definition: "m₄ / m₂², m_k = mean (y − mean y)^k" + in + ": 3 for a normal distribution",
			ofCycle:    audible(i, func(s *state) float64 { return s.level.moments.kurtosis() }),
		},
		{
			Name: "zero_crossings_per_s", Unit: "1/s", Range: "≥ 0",
			Definition: "changes of sign of y" + in + " / its duration in seconds: twice the frequency of a tone",
			ofCycle: func(c *cycle) float64 {
				if c.state[i].silent {
					return math.NaN()
				}
				return float64(c.state[i].level.crossings) / c.at.StateLength(i).Seconds()
			},
		},
		{
			Name: "envelope_centre_share", Unit: "1", Range: "0 to 1",
			Definition: "Σ (k + ½) A[k] / (n Σ A[k]) over the n samples of " + s.String() + ": where in the state the sound has its centre, 0 its start and 1 its end",
			ofCycle: func(c *cycle) float64 {
				if c.state[i].silent {
					return math.NaN()
				}
				return c.centreShare(&c.state[i])
			},
		},
	}
	for k := range rows {
		f := &rows[k]
		f.Name, f.Source, f.Statistics = prefix(s)+f.Name, practice, Four
		if f.Null == "" {
			f.Null = ofSilence
		}
	}
	return rows
}

// centreShare returns where the envelope of a state has its centre.
func (c *cycle) centreShare(s *state) float64 {
	n := len(s.envelope)
	for k := len(c.places); k < n; k++ {
		c.places = append(c.places, float64(k)+0.5)
	}
	return ratio(simd.Dot(s.envelope, c.places), float64(n)*float64(n)*s.envelopeMean)
}

// envelopeShape are the means of the envelope over the tenths of a state.
func envelopeShape(i int) []Feature {
	s := pcg.Cycle[i]
	rows := make([]Feature, tenths)
	for k := range rows {
		rows[k] = Feature{
			Name: fmt.Sprintf("%senvelope_tenth_%02d_ratio", prefix(s), k+1), Unit: "1", Range: "≥ 0", Source: practice,
			Definition: fmt.Sprintf("mean A over samples ⌊%dn/10⌋ to ⌊%dn/10⌋ − 1 of the n of %v / mean A over %v", k, k+1, s, s),
			Null:       "the state is shorter than 10 ms or silent (RMS of y below 1e-9 FS)",
			Statistics: MeanSD,
			ofCycle: func(c *cycle) float64 {
				a := c.state[i].envelope
				if c.state[i].silent || len(a) < tenths {
					return math.NaN()
				}
				return ratio(mean(part(a, k, tenths)), c.state[i].envelopeMean)
			},
		}
	}
	return rows
}

// part returns the k-th of n nearly equal parts of x.
func part(x []float64, k, n int) []float64 { return x[k*len(x)/n : (k+1)*len(x)/n] }
