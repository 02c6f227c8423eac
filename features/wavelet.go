package features

import "phonocycle/pipeline/signal"

// waveletBands are the bands of the undecimated transform at 1 kHz: level j of
// a dyadic transform nominally holds 1000/2^(j+1) to 1000/2^j hertz.
var waveletBands = [...]struct {
	level int
	name  string
	words string
}{
	{4, "31_62_hz", "31.25 to 62.5 Hz"},
	{3, "62_125_hz", "62.5 to 125 Hz"},
	{2, "125_250_hz", "125 to 250 Hz"},
	{1, "250_500_hz", "250 to 500 Hz"},
}

// newWavelet returns the plan of all bands.
func newWavelet() *signal.Wavelet {
	low, high, _, _ := signal.ReverseBiorthogonal39()
	return signal.NewWavelet(low, high, len(waveletBands))
}

// detail is what is measured of the details of one band in a state.
type detail struct{ energy, evenness float64 }
