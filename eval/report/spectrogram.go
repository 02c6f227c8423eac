package report

import (
	"image"
	"image/color"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/palette/brewer"
	"gonum.org/v1/plot/palette/moreland"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// spectrogram is the short-time spectrum of a sound in decibels:
//
//	L[m][k] = 10 log10 P(x[mH] … x[mH+W−1])[k]
//
// where P is the periodogram of [signal.Periodogram] (mean removed, periodic Hann
// window), W = spectrogramWindow and H = spectrogramHop in samples. Column m stands
// for the time of the middle of its window, and row k for the frequency k·step. The
// window tells apart tones some 30 Hz and events some 24 ms apart (1.44/W in hertz
// and W/2 in seconds). Source of the short-time Fourier transform: Allen and Rabiner
// 1977, doi:10.1109/PROC.1977.10770.
type spectrogram struct {
	levels [][]float64 // a column per window; −Inf without power
	step   float64     // between rows in hertz
}

const (
	spectrogramWindow = 48 * time.Millisecond
	spectrogramHop    = 12 * time.Millisecond

	// spectrogramTop is the highest frequency that is drawn, in hertz. Heart sounds
	// and nearly all of the power of murmurs lie below it.
	spectrogramTop = 500

	// spectrogramStep is the longest step between rows in hertz; windows are padded
	// with zeros to reach it.
	spectrogramStep = 8

	// spectrogramRange is how far below the loudest annotated cell a level still has
	// a colour of its own, in decibels.
	spectrogramRange = 50
)

// newSpectrogram returns the spectrogram of samples; a sound shorter than the window
// has no column.
func newSpectrogram(samples []float64, rate int) *spectrogram {
	window, hop := pcg.ToSamples(spectrogramWindow, rate), pcg.ToSamples(spectrogramHop, rate)
	points := 2
	for float64(rate) > spectrogramStep*float64(points) || points < window {
		points *= 2
	}
	s := &spectrogram{step: float64(rate) / float64(points)}
	var windows []signal.Stretch
	for i := 0; i+window <= len(samples); i += hop {
		windows = append(windows, signal.Stretch{Samples: samples[i : i+window], Rate: float64(rate)})
	}
	spectra := make([]signal.Spectrum, len(windows))
	signal.NewPeriodogram(points).Estimates(spectra, windows)
	rows := min(int(spectrogramTop/s.step), points/2) + 1
	for _, spectrum := range spectra {
		column := spectrum.Density[:rows]
		for k, v := range column {
			column[k] = 10 * math.Log10(v)
		}
		s.levels = append(s.levels, column)
	}
	return s
}

// at returns the time of column m from the start of the sound.
func (s *spectrogram) at(m int) time.Duration {
	return spectrogramWindow/2 + time.Duration(m)*spectrogramHop
}

// spectrogramColours are the colours of levels from the lowest to the highest: those
// of the scheme GnBu of Harrower and Brewer 2003 (doi:10.1179/000870403235002042),
// which people with colour vision deficiencies read too, from light to dark. Between
// them lightness falls evenly with the level (Moreland 2009,
// doi:10.1007/978-3-642-10520-3_9), so that the order is also seen without colour.
var spectrogramColours = func() color.Palette {
	const colours = 32
	scheme, err := brewer.GetPalette(brewer.TypeSequential, "GnBu", 9)
	if err != nil {
		panic(err) // a scheme of the package
	}
	controls := slices.Clone(scheme.Colors())
	slices.Reverse(controls) // darkest first
	scale, err := moreland.NewLuminance(controls)
	if err != nil {
		panic(err) // their lightness rises
	}
	scale.SetMax(1)
	list := color.Palette(scale.Palette(colours).Colors())
	slices.Reverse(list)
	return list
}()

// image returns the levels from loudest−spectrogramRange to loudest as colours, low
// frequencies at the bottom.
func (s *spectrogram) image(loudest float64) image.Image {
	columns, rows := len(s.levels), len(s.levels[0])
	img := image.NewPaletted(image.Rect(0, 0, columns, rows), spectrogramColours)
	last := float64(len(spectrogramColours) - 1)
	for m, column := range s.levels {
		for k, level := range column {
			shade := math.Round(last * (1 + (level-loudest)/spectrogramRange))
			img.SetColorIndex(m, rows-1-k, uint8(min(max(shade, 0), last)))
		}
	}
	return img
}

// loudest returns the highest level in annotated time, or of all columns where
// nothing is annotated.
func (v *View) loudest(s *spectrogram) float64 {
	annotated, all := math.Inf(-1), math.Inf(-1)
	intervals := v.within(v.Reference.Intervals)
	for m, column := range s.levels {
		peak, at := slices.Max(column), v.From+s.at(m)
		all = max(all, peak)
		if slices.ContainsFunc(intervals, func(iv pcg.Interval) bool { return iv.Start <= at && at < iv.End }) {
			annotated = max(annotated, peak)
		}
	}
	if math.IsInf(annotated, -1) {
		return all
	}
	return annotated
}

// drawSpectrogram draws the spectrogram of the sound as an image, each cell around
// its time and its frequency. Silence has none.
func (v *View) drawSpectrogram(c *draw.Canvas, p *plot.Plot, l *strip) {
	s := newSpectrogram(v.Wave, v.WaveRate)
	if len(s.levels) == 0 {
		return
	}
	loudest := v.loudest(s)
	if math.IsInf(loudest, -1) {
		return
	}
	x, y := p.Transforms(c)
	half := spectrogramHop / 2
	left, right := v.From+s.at(0)-half, v.From+s.at(len(s.levels)-1)+half
	c.DrawImage(vg.Rectangle{
		Min: vg.Point{X: x(left.Seconds()), Y: y(l.low)},
		Max: vg.Point{X: x(right.Seconds()), Y: y(l.top)},
	}, s.image(loudest))
}
