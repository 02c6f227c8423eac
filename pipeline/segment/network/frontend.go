package network

import (
	"slices"

	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/simd"
)

// FrameRate is the number of frames per second that a network reads and writes.
// Frame j covers the samples of [j, j+1)/FrameRate seconds and is measured
// through a window centred on its middle.
const FrameRate = 50

const hop = signal.AnalysisRate / FrameRate // samples per frame

// fine is the number of positions per frame at which training examples are
// measured, so that augmentation can shift and stretch time between frames.
const fine = 2

// FrontEndOptions says how a recording becomes the input of a network.
type FrontEndOptions struct {
	Bank  signal.FilterBankOptions `yaml:"bank" json:"bank"`
	Scale float64                  `yaml:"scale" json:"scale"`
	Clamp float64                  `yaml:"clamp" json:"clamp"`
}

// defaultFrontEnd measures 24 bands from 15 to 490 Hz.
func defaultFrontEnd() FrontEndOptions {
	return FrontEndOptions{
		Bank:  signal.FilterBankOptions{Bands: 24, Low: 15, High: 490, Window: 0.064},
		Scale: 2,
		Clamp: 4,
	}
}

// options describes the front end. What else a filter bank needs, package signal
// checks.
func (o *FrontEndOptions) options() []option.Option {
	const nyquist = signal.AnalysisRate / 2
	return option.Under("front-end", []option.Option{
		{Key: "bank.bands", Value: &o.Bank.Bands, About: "Number of bands of the filter bank, equally spaced on the mel scale", Low: 1, High: limit},
		{
			Key: "bank.low-hz", Value: &o.Bank.Low, About: "Lower edge of the lowest band", Unit: "Hz",
			Low: 0, High: option.Below(o.Bank.High), Limit: "0 to below front-end.bank.high-hz",
		},
		{Key: "bank.high-hz", Value: &o.Bank.High, About: "Upper edge of the highest band", Unit: "Hz", Low: 0, High: nyquist},
		{Key: "bank.window-s", Value: &o.Bank.Window, About: "Length of the Hann window of a frame", Unit: "s", Low: 3. / signal.AnalysisRate, High: 10},
		{Key: "scale", Value: &o.Scale, About: "Number of natural logarithms of energy in one unit of input", Low: 1e-3, High: 1e3},
		{Key: "clamp", Value: &o.Clamp, About: "Largest magnitude of an input", Low: 1e-3, High: 1e3},
	})
}

// FrontEnd turns samples into the input of a network,
//
//	x[b,t] = clamp( (ln E[b,t] − median over t of ln E[b,t]) / scale ).
//
// A gain of the recording adds a constant to ln E, and the response of a sensor
// one to each band; the median takes both away. A click, however loud, moves the
// median by no more than the frames it spans, and the clamp bounds what the
// network sees of it. The scale is a constant: how far the sounds stand out of
// the rest is worth knowing.
//
// A FrontEnd owns buffers and serves one goroutine.
type FrontEnd struct {
	options  FrontEndOptions
	bank     *signal.FilterBank
	energies []float64
	sorted   []float64
	medians  []float64
}

// NewFrontEnd prepares a front end for recordings at signal.AnalysisRate.
func NewFrontEnd(o FrontEndOptions) (*FrontEnd, error) {
	if err := option.Check(o.options()); err != nil {
		return nil, err
	}
	bank, err := signal.NewFilterBank(o.Bank, signal.AnalysisRate)
	if err != nil {
		return nil, err
	}
	return &FrontEnd{options: o, bank: bank, medians: make([]float64, o.Bank.Bands)}, nil
}

// Frames returns the number of frames of n samples; the last may be cut short.
func (f *FrontEnd) Frames(n int) int { return (n + hop - 1) / hop }

// Measure makes the frames of x, which must not be empty, the input of p.
func (f *FrontEnd) Measure(p *Pass, x []float64) {
	n := f.frames(x)
	f.normalise(p.Input(n), f.energies)
}

// frames measures the log energies of the frames of x and their medians, and
// returns how many frames there are.
func (f *FrontEnd) frames(x []float64) int {
	n := f.Frames(len(x))
	f.energies = f.bank.LogEnergies(f.energies, x, hop/2, hop, n)
	f.sorted = slices.Grow(f.sorted[:0], simd.Width*n)[:simd.Width*n]
	for first := 0; first < len(f.medians); first += simd.Width {
		var bands [simd.Width][]float64
		for l := range bands {
			b := min(first+l, len(f.medians)-1)
			bands[l] = f.energies[b*n : (b+1)*n]
		}
		simd.Interleave(f.sorted, &bands)
		simd.Sort(f.sorted)
		low, high := f.sorted[(n-1)/2*simd.Width:], f.sorted[n/2*simd.Width:]
		for b := range f.medians[first:min(first+simd.Width, len(f.medians))] {
			f.medians[first+b] = (low[b] + high[b]) / 2
		}
	}
	return n
}

// normalise writes the normalised log energies to in.
func (f *FrontEnd) normalise(in Matrix, energies []float64) {
	for b := range in.Rows {
		row := in.Data[b*in.Stride : b*in.Stride+in.Cols]
		for t := range row {
			v := (energies[b*in.Cols+t] - f.medians[b]) / f.options.Scale
			row[t] = float32(min(max(v, -f.options.Clamp), f.options.Clamp))
		}
	}
}

// Fine measures x at two positions per frame, position i centred on sample
// i·hop/fine, normalised by the medians that Measure would use.
func (f *FrontEnd) Fine(x []float64) Matrix {
	f.frames(x)
	step := hop / fine
	n := (len(x)-1)/step + 1
	in := Matrix{Rows: f.options.Bank.Bands, Cols: n, Stride: n, Data: make([]float32, f.options.Bank.Bands*n)}
	f.normalise(in, f.bank.LogEnergies(nil, x, 0, step, n))
	return in
}
