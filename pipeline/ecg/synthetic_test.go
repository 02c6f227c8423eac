package ecg

import (
	"math"
	"math/rand/v2"
)

// synthetic describes an ECG whose beats are known. Amplitudes are in units of the
// R wave.
type synthetic struct {
	fs, seconds float64
	rate        float64 // beats per minute
	noise       float64 // standard deviation of white noise, at 250 samples per second
	wander      float64 // of the baseline, at 0.3 Hz
	hum         float64 // at 50 Hz
	tall        float64 // T wave; 0.3 if zero
	every       int     // each so many beats one comes early, after 0.6 of the interval
	scale       float64 // of the whole; 1 if zero
	offset      float64
	seed        uint64
}

// wave is one of the waves of a beat: its height, its time after the R wave and its
// width (standard deviation), in seconds.
type wave struct{ height, at, width float64 }

// render returns the samples and the times of the R waves in samples. The times vary
// by 2 % of the interval. The time from R to T follows the square root of the
// interval (Bazett 1920).
func (s synthetic) render() (x []float64, beats []float64) {
	r := rand.New(rand.NewPCG(s.seed, 15))
	interval := 60 / s.rate
	tall, scale := s.tall, s.scale
	if tall == 0 {
		tall = 0.3
	}
	if scale == 0 {
		scale = 1
	}
	root := math.Sqrt(interval)
	waves := []wave{{0.1, -0.16 * root, 0.02 * root}, {-0.15, -0.025, 0.008}, {1, 0, 0.011}, {-0.2, 0.028, 0.009}, {tall, 0.28 * root, 0.045 * root}}
	x = make([]float64, int(s.seconds*s.fs))
	add := func(w wave, centre, stretch float64) {
		centre, width := centre+w.at*stretch, w.width*stretch
		for i := max(0, int((centre-5*width)*s.fs)); i < min(len(x), int((centre+5*width)*s.fs)+1); i++ {
			u := (float64(i)/s.fs - centre) / width
			x[i] += w.height * math.Exp(-u*u/2)
		}
	}
	for t, n := interval/2, 1; t < s.seconds-0.05; n++ {
		for _, w := range waves {
			add(w, t, 1)
		}
		beats = append(beats, t*s.fs)
		next := interval * (1 + 0.02*r.NormFloat64())
		switch {
		case s.every > 0 && n%s.every == 0:
			next *= 0.6
		case s.every > 0 && n > 1 && n%s.every == 1:
			next *= 1.4 // a pause follows the early beat
		}
		t += next
	}
	sd := s.noise * math.Sqrt(s.fs/250) // the same density at all rates
	for i := range x {
		t := float64(i) / s.fs
		x[i] += sd*r.NormFloat64() + s.wander*math.Sin(2*math.Pi*0.3*t) + s.hum*math.Sin(2*math.Pi*50*t)
		x[i] = scale*x[i] + s.offset
	}
	return x, beats
}

// found counts as detectors are counted: true positives, false negatives and false
// positives of R waves within a window in seconds.
type found struct{ tp, fn, fp int }

func (f found) sensitivity() float64 { return float64(f.tp) / float64(f.tp+f.fn) }
func (f found) predictivity() float64 {
	return float64(f.tp) / float64(f.tp+f.fp)
}

// count matches R waves to known beats, in order, each once. Beats in the first and
// last half second may be missed or found.
func count(waves []int, beats []float64, window, fs float64, n int) found {
	var f found
	inner := func(at float64) bool { return at > fs/2 && at < float64(n)-fs/2 }
	i := 0
	for _, b := range beats {
		for i < len(waves) && float64(waves[i]) < b-window*fs {
			if inner(float64(waves[i])) {
				f.fp++
			}
			i++
		}
		switch {
		case i < len(waves) && math.Abs(float64(waves[i])-b) <= window*fs:
			f.tp++
			i++
		case inner(b):
			f.fn++
		}
	}
	for ; i < len(waves); i++ {
		if inner(float64(waves[i])) {
			f.fp++
		}
	}
	return f
}
