package degrade

import (
	"fmt"
	"slices"

	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/noise"
)

// filterOrder is the order of the Butterworth filters, which run forwards and backwards.
const filterOrder = 2

// band writes x, at rate hertz, to d.filtered, limited to the band of the heart sounds.
func (d *Degrader) band(x []float64, rate int) []float64 {
	f := d.bands[rate]
	if f == nil {
		f = newBand(rate)
		d.bands[rate] = f
	}
	d.filtered = f.Filter(d.filtered, x)
	return d.filtered
}

func newBand(rate int) *signal.ZeroPhase {
	sos, err := signal.ButterworthBandPass(filterOrder, signal.BandLow, signal.BandHigh, float64(rate))
	if rate <= 2*signal.BandHigh {
		sos, err = signal.ButterworthHighPass(filterOrder, signal.BandLow, float64(rate))
	}
	if err != nil { // audio has no rate at which there is no such filter
		panic(fmt.Sprintf("degrade: %v", err))
	}
	return signal.NewZeroPhase(sos)
}

// medianPower returns the median power of x in the band over windows of one second.
func (d *Degrader) medianPower(x []float64, rate int) float64 {
	y := d.band(x, rate)
	d.powers = d.powers[:0]
	for at := 0; at+rate <= len(y); at += rate {
		d.powers = append(d.powers, noise.Power(y[at:at+rate]))
	}
	if len(d.powers) == 0 {
		return noise.Power(y)
	}
	slices.Sort(d.powers)
	return signal.Quantile(d.powers, 0.5)
}
