package degrade

import (
	"fmt"
	"slices"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/noise"
)

// workspace holds filters for the rates that were met, and buffers.
type workspace struct {
	generator  noise.Generator
	filters    map[filterKey]*signal.ZeroPhase
	resamplers map[int]*audio.Resampler // by the rate that they bring to

	filtered, sorted, powers, section []float64
	resampled                         [2][]float64
}

func newWorkspace() *workspace {
	return &workspace{filters: map[filterKey]*signal.ZeroPhase{}, resamplers: map[int]*audio.Resampler{}}
}

// filterKey names a filter at a sampling rate in hertz.
type filterKey struct {
	name string
	rate int
}

// filter returns a filter, which is designed when it is first asked for.
func (w *workspace) filter(name string, rate int, design func(order int, fs float64) (signal.SOS, error)) *signal.ZeroPhase {
	key := filterKey{name, rate}
	if w.filters[key] == nil {
		sos, err := design(filterOrder, float64(rate))
		if err != nil { // callers ask for filters that there are
			panic(fmt.Sprintf("degrade: %v", err))
		}
		w.filters[key] = signal.NewZeroPhase(sos)
	}
	return w.filters[key]
}

// filterOrder is the order of the Butterworth filters, which run forwards and backwards.
const filterOrder = 2

// band writes x, at rate hertz, to w.filtered, limited to the band of the heart sounds.
func (w *workspace) band(x []float64, rate int) []float64 {
	f := w.filter("band", rate, func(order int, fs float64) (signal.SOS, error) {
		if fs <= 2*signal.BandHigh {
			return signal.ButterworthHighPass(order, signal.BandLow, fs)
		}
		return signal.ButterworthBandPass(order, signal.BandLow, signal.BandHigh, fs)
	})
	w.filtered = f.Filter(w.filtered, x)
	return w.filtered
}

// medianPower returns the median power of x in the band over windows of one second.
func (w *workspace) medianPower(x []float64, rate int) float64 {
	y := w.band(x, rate)
	w.powers = w.powers[:0]
	for at := 0; at+rate <= len(y); at += rate {
		w.powers = append(w.powers, noise.Power(y[at:at+rate]))
	}
	if len(w.powers) == 0 {
		return noise.Power(y)
	}
	slices.Sort(w.powers)
	return signal.Quantile(w.powers, 0.5)
}

// resample brings x to another rate, into memory that is kept in buffer.
func (w *workspace) resample(buffer *[]float64, x []float64, from, to int) []float64 {
	if w.resamplers[to] == nil {
		w.resamplers[to] = audio.NewResampler(to)
	}
	*buffer = w.resamplers[to].Resample((*buffer)[:0], x, from)
	return *buffer
}

// resize returns a slice of n elements, in the memory of x if that is enough.
func resize(x []float64, n int) []float64 {
	if cap(x) < n {
		return make([]float64, n)
	}
	return x[:n]
}
