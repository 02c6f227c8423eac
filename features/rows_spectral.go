package features

import (
	"fmt"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

const (
	slopeLow  = 50.0 // Hz: with signal.BandHigh, three octaves
	potes2016 = "common practice; band limits after the input filters of Potes et al. 2016, Computing in Cardiology (from memory)"
	sakai1971 = "Sakai et al. 1971, Cardiovasc Res 5:358, state slopes in these terms; the fit is ours"
)

// bandEdges divide the band of the spectra, in hertz.
var bandEdges = [...]float64{25, 45, 80, 200, 400}

// spectralFeatures are measured on the spectrum of each state.
func spectralFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		rows = append(rows, stateSpectrum(i, s)...)
	}
	return rows
}

// stateSpectrum are the spectral features of the i-th state of the cycle.
func stateSpectrum(i int, s pcg.State) []Feature {
	in := " in " + s.String()
	measure := func(name, unit, limits, definition string, of func(*signal.Shape) float64) Feature {
		return Feature{
			Name: prefix(s) + name, Unit: unit, Range: limits, Source: practice,
			Definition: definition, Null: ofShortState, Statistics: Four,
			ofCycle: spectral(i, func(s *state) float64 { return of(&s.shape) }),
		}
	}
	from := func(source string, f Feature) Feature {
		f.Source = source
		return f
	}
	quantile := func(q float64) func(*signal.Shape) float64 {
		return func(p *signal.Shape) float64 { return p.Quantile(q) }
	}
	const hz, within = "25 to 400", "24.9 to 399.9"
	rows := []Feature{
		measure("centroid_hz", "Hz", hz, "μ = Σ f P / Σ P"+in, (*signal.Shape).Centroid),
		measure("spread_hz", "Hz", "0 to 188", "√(Σ (f − μ)² P / Σ P)"+in, (*signal.Shape).Spread),
		measure("median_frequency_hz", "Hz", within, "frequency below which 50 % of Σ P lie, interpolated within the bin"+in, quantile(0.5)),
		measure("peak_frequency_hz", "Hz", hz, "frequency of the greatest P, the lowest of equals (bins 0.977 Hz apart)"+in, (*signal.Shape).Peak),
		measure("rolloff_85_hz", "Hz", within, "frequency below which 85 % of Σ P lie, interpolated within the bin"+in, quantile(0.85)),
		measure("rolloff_95_hz", "Hz", within, "frequency below which 95 % of Σ P lie, interpolated within the bin"+in, quantile(0.95)),
		from(shannon1948, measure("spectral_entropy", "1", "0 to 1", "−Σ p ln p / ln 384, p = P / Σ P"+in, (*signal.Shape).Entropy)),
		from(gray1974, measure("spectral_flatness", "1", "0 to 1", "exp(mean ln P) / mean P"+in, (*signal.Shape).Flatness)),
		from(sakai1971, measure("slope_50_400_hz_db_per_octave", "dB/octave", "any", "slope of 10 log₁₀ P over log₂ f at 50 ≤ f < 400 Hz by least squares with weights 1/f"+in,
			func(p *signal.Shape) float64 { return p.Slope(slopeLow, signal.BandHigh) })),
	}
	for b := range len(bandEdges) - 1 {
		low, high := bandEdges[b], bandEdges[b+1]
		rows = append(rows, from(potes2016, measure(fmt.Sprintf("band_%g_%g_hz_share", low, high), "1", "0 to 1",
			fmt.Sprintf("Σ P at %g ≤ f < %g Hz / Σ P%s", low, high, in),
			func(p *signal.Shape) float64 { return p.Share(low, high) })))
	}
	return append(rows, Feature{
		Name: prefix(s) + "band_400_800_hz_share", Unit: "1", Range: "0 to 1", Source: practice,
		Definition: "Σ Q at 400 ≤ f < 800 Hz / Σ Q at 25 ≤ f < 800 Hz, Q the periodogram of v in " + s.String() + " (mean removed, periodic Hann window, the least power of two of points that lasts half a second)",
		Null:       ofShortState, Statistics: Four,
		ofCycle: func(c *cycle) float64 { return c.state[i].highShare },
	})
}
