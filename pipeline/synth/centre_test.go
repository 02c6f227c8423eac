package synth

import (
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// The truth's centre is where a reader of the recording would put it: within 15
// ms of the middle of the hump, at half its height, in the homomorphic envelope
// (8 Hz) of the band from 25 to 400 Hz (Schmidt 2010, doi
// 10.1088/0967-3334/31/4/004), which knows nothing of how the sound was made.
func TestCentreByEnvelope(t *testing.T) {
	const fs = 1000
	band, err := signal.ButterworthBandPass(2, 25, 400, fs)
	if err != nil {
		t.Fatal(err)
	}
	filter := signal.NewZeroPhase(band)
	homomorphic, err := signal.NewHomomorphic(8, fs)
	if err != nil {
		t.Fatal(err)
	}
	analytic := signal.NewAnalytic()
	for rate := 50.0; rate <= 110; rate += 10 {
		for _, site := range Sites() {
			h := NewHeart(rate, RestingMen, uint64(rate))
			site.applyTo(&h)
			r, err := Render(h, 10*time.Second, fs, WithNoise(Pink, 25))
			if err != nil {
				t.Fatal(err)
			}
			envelope := homomorphic.Smooth(nil, analytic.Envelope(nil, filter.Filter(nil, r.Samples)))
			for _, iv := range r.Truth[1 : len(r.Truth)-1] {
				if !iv.State.IsSound() {
					continue
				}
				found := hump(envelope, pcg.ToSamples(iv.Centre(), fs), fs*6/100)
				if off := pcg.FromSamples(int64(found), fs) - iv.Centre(); off.Abs() > 15*time.Millisecond {
					t.Errorf("%g bpm, %s: %v has its hump %v from its centre", rate, site, iv, off)
				}
			}
		}
	}
}

// hump returns the middle, at half the height, of the highest peak of x within
// reach of sample n.
func hump(x []float64, n, reach int) int {
	peak := max(0, n-reach)
	for i := peak; i < min(len(x), n+reach); i++ {
		if x[i] > x[peak] {
			peak = i
		}
	}
	first, last := peak, peak
	for first > 0 && x[first] > x[peak]/2 {
		first--
	}
	for last < len(x)-1 && x[last] > x[peak]/2 {
		last++
	}
	return (first + last) / 2
}
