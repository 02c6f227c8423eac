package audio

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// analysisRate is the rate at which methods run.
const analysisRate = 1000

// The specification to which the filter is held at every rate.
const (
	maxRippleDB   = 0.05
	minStopbandDB = 80
)

// measuredRates are those of stethoscopes and audio, and some that make L
// large: primes, of which the last two are interpolated in a table.
var measuredRates = []int{500, 2000, 4000, 8000, 11025, 22050, 44100, 48000, 192000, 750, 999, 1001, 4001, 16001, 191999}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// sine returns n samples of a sine of unit amplitude.
func sine(n int, hz, phase float64, rate int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2*math.Pi*hz*float64(i)/float64(rate) + phase)
	}
	return x
}

// inner returns y without the part at its ends that the filter's length from
// the slower rate reaches, and the index of its first sample.
func inner(y []float64, from int) (int, []float64) {
	margin := int(math.Ceil(33*analysisRate/float64(min(from, analysisRate)))) + 1
	return margin, y[margin : len(y)-margin]
}

// fitTone fits c + a·sin + b·cos of a frequency to y, whose first sample is
// number first, by least squares, and returns the complex amplitude b + ia and
// the root mean square of what is left.
func fitTone(y []float64, first int, hz float64) (amplitude complex128, rest float64) {
	var m [3][4]float64 // normal equations
	basis := func(i int) [3]float64 {
		s, c := math.Sincos(2 * math.Pi * hz * float64(first+i) / analysisRate)
		return [3]float64{1, s, c}
	}
	for i, v := range y {
		g := basis(i)
		for r := range 3 {
			for c := range 3 {
				m[r][c] += g[r] * g[c]
			}
			m[r][3] += g[r] * v
		}
	}
	for p := range 3 { // Gauss–Jordan; the matrix is positive definite
		for r := range 3 {
			if r == p {
				continue
			}
			q := m[r][p] / m[p][p]
			for c := range 4 {
				m[r][c] -= q * m[p][c]
			}
		}
	}
	var w [3]float64
	for p := range 3 {
		w[p] = m[p][3] / m[p][p]
	}
	// The constant belongs to what is left: it is no part of the tone.
	for i, v := range y {
		g := basis(i)
		e := v - w[1]*g[1] - w[2]*g[2]
		rest += e * e
	}
	return complex(w[2], w[1]), math.Sqrt(rest / float64(len(y)))
}

// TestToneResponse sends tones through Resample. In the pass band the gain
// must be 1 within the ripple, the phase that of the input, and what is not
// the tone (images, aliases) must lie below the stop band's limit. Above half
// the analysis rate all that comes out must.
func TestToneResponse(t *testing.T) {
	const tones = 12
	for _, from := range measuredRates {
		t.Run(fmt.Sprint(from), func(t *testing.T) {
			lower := float64(min(from, analysisRate))
			frames := from
			if from > 5000 {
				frames = from / 4
			}
			r := NewResampler(analysisRate)
			var y []float64
			var ripple, spurious, late, leak float64
			for i := range tones {
				hz := lower * passEdge * float64(i+1) / 24
				y = r.Resample(y, sine(frames, hz, 0.3, from), from)
				first, in := inner(y, from)
				a, rest := fitTone(in, first, hz)
				ripple = max(ripple, math.Abs(decibels(cmplx.Abs(a))))
				spurious = max(spurious, rest*math.Sqrt2)
				// sin(ωt + 0.3) = cos 0.3 sin ωt + sin 0.3 cos ωt
				want := complex(math.Sin(0.3), math.Cos(0.3))
				late = max(late, math.Abs(cmplx.Phase(a/want))/(2*math.Pi*hz))
			}
			if from > analysisRate {
				top := float64(from) / 2
				for i := range tones {
					// Squares crowd the tones at the edge of the band.
					hz := 500 + (top-500)*math.Pow(float64(i)/tones, 2)
					y = r.Resample(y, sine(frames, hz, 0.3, from), from)
					_, in := inner(y, from)
					sum := 0.0
					for _, v := range in {
						sum += v * v
					}
					leak = max(leak, math.Sqrt(2*sum/float64(len(in))))
				}
			}
			t.Logf("ripple %.6f dB, spurious %.1f dB, stop band %.1f dB, delay %.2g s", ripple, decibels(spurious), decibels(leak), late)
			if ripple > maxRippleDB {
				t.Errorf("ripple %.4f dB, allowed %v", ripple, maxRippleDB)
			}
			if decibels(spurious) > -minStopbandDB {
				t.Errorf("images or aliases at %.1f dB of a tone in the pass band, allowed −%d", decibels(spurious), minStopbandDB)
			}
			if decibels(leak) > -minStopbandDB {
				t.Errorf("tones above half the rate at %.1f dB, allowed −%d", decibels(leak), minStopbandDB)
			}
			if late > 1e-8 {
				t.Errorf("tones are shifted by %.2g s", late)
			}
		})
	}
}

// TestImpulseResponse computes the frequency response from the coefficients,
// densely around the band edges and up to the highest image. The table of a
// plan holds samples of h in steps of 1/phases, so that its spectrum is
// H(f) = Σ h(t) cos(2πft) / phases.
func TestImpulseResponse(t *testing.T) {
	const points = 40
	for _, from := range measuredRates {
		t.Run(fmt.Sprint(from), func(t *testing.T) {
			p := newPlan(from, analysisRate)
			lower := float64(min(from, analysisRate))
			response := func(hz float64) float64 {
				f := hz / float64(from)
				sum := 0.0
				for ph := range p.phases {
					row := p.row(ph)
					phase := float64(ph) / float64(p.phases)
					// e^(2πift) by rotation from tap to tap.
					at := cmplx.Rect(1, 2*math.Pi*f*(phase+float64(p.half-1)))
					step := cmplx.Rect(1, -2*math.Pi*f)
					for _, h := range row {
						sum += h * real(at)
						at *= step
					}
				}
				return sum / float64(p.phases)
			}
			var ripple, stop float64
			for i := range points + 1 {
				ripple = max(ripple, math.Abs(decibels(response(lower*passEdge*float64(i)/points))))
			}
			top := float64(from) * float64(p.phases) / 2
			for i := range points + 1 {
				stop = max(stop, math.Abs(response(lower*(stopEdge+0.1*float64(i)/points))))
				if far := lower * (stopEdge + 0.1); top > far {
					stop = max(stop, math.Abs(response(far+(top-far)*float64(i)/points)))
				}
			}
			t.Logf("ripple %.6f dB, stop band %.1f dB", ripple, decibels(stop))
			if ripple > maxRippleDB {
				t.Errorf("ripple %.4f dB, allowed %v", ripple, maxRippleDB)
			}
			if decibels(stop) > -minStopbandDB {
				t.Errorf("stop band %.1f dB, allowed −%d", decibels(stop), minStopbandDB)
			}
		})
	}
}

// checkNoise is the fixed noise of resample.py.
func checkNoise(n int) []float64 {
	x := make([]float64, n)
	s := uint32(1)
	for i := range x {
		s = 1103515245*s + 12345
		x[i] = float64(s>>16)/32768 - 1
	}
	return x
}

// TestResampleAgainstSciPy compares with scipy.signal.resample_poly and with
// the defining sum in NumPy, ends included.
func TestResampleAgainstSciPy(t *testing.T) {
	r := NewResampler(analysisRate)
	for _, c := range loadCheckValues(t).Resampled {
		t.Run(fmt.Sprint(c.Rate), func(t *testing.T) {
			got := r.Resample(nil, checkNoise(c.Frames), c.Rate)
			if len(got) != len(c.Y) {
				t.Fatalf("%d samples, %s has %d", len(got), c.Method, len(c.Y))
			}
			// Where the plan has fewer rows than L the table is interpolated.
			within := 1e-13
			if p := r.plan(c.Rate); p.phases < p.up {
				within = 1e-7
			}
			worst := 0.0
			for k, want := range c.Y {
				if e := math.Abs(got[k] - want); e > within {
					t.Fatalf("y[%d] = %v, %s has %v", k, got[k], c.Method, want)
				} else {
					worst = max(worst, e)
				}
			}
			t.Logf("worst difference %.2g over %d samples", worst, len(got))
		})
	}
}

// TestClickKeepsItsTime puts an impulse at a time that is a sample at both
// rates. It must come out there, and the same on both sides.
func TestClickKeepsItsTime(t *testing.T) {
	for _, from := range measuredRates {
		g := gcd(from, analysisRate)
		steps := g * 200 / analysisRate // about 0.2 s in common sample times
		if steps == 0 {
			steps = 1
		}
		at, want := steps*from/g, steps*analysisRate/g
		x := make([]float64, 2*at+1)
		x[at] = 1
		y := NewResampler(analysisRate).Resample(nil, x, from)
		peak := 0
		for k, v := range y {
			if v > y[peak] {
				peak = k
			}
		}
		if peak != want {
			t.Errorf("%d Hz: click at %d ms, want %d", from, peak, want)
			continue
		}
		for i := 1; i <= 40; i++ {
			if e := math.Abs(y[want-i] - y[want+i]); e > 1e-14 {
				t.Errorf("%d Hz: %d ms before and after the click differ by %.2g", from, i, e)
				break
			}
		}
	}
}

// TestBandLimitedSignal resamples a sum of tones below the pass edge: sample k
// must be the sum at the time k/1000, with no other reference than the sum.
func TestBandLimitedSignal(t *testing.T) {
	for _, from := range measuredRates {
		lower := float64(min(from, analysisRate))
		n := from
		x := make([]float64, n)
		want := make([]float64, outputLength(n, from, analysisRate))
		for i, part := range []float64{0, 0.031, 0.1173, 0.2499, 0.3811, 0.4} {
			phase := float64(i) * 1.1
			for j, v := range sine(n, part*lower, phase, from) {
				x[j] += v / 6
			}
			for j, v := range sine(len(want), part*lower, phase, analysisRate) {
				want[j] += v / 6
			}
		}
		first, got := inner(NewResampler(analysisRate).Resample(nil, x, from), from)
		for i, v := range got {
			if e := math.Abs(v - want[first+i]); e > 1e-4 {
				t.Errorf("%d Hz: sample %d is %v, want %v", from, first+i, v, want[first+i])
				break
			}
		}
	}
}

func TestConstantStaysConstant(t *testing.T) {
	for _, from := range measuredRates {
		x := make([]float64, from/2)
		for i := range x {
			x[i] = 0.75
		}
		first, y := inner(NewResampler(analysisRate).Resample(nil, x, from), from)
		for i, v := range y {
			if math.Abs(v-0.75) > 1e-13 {
				t.Errorf("%d Hz: sample %d is %v, want 0.75", from, first+i, v)
				break
			}
		}
	}
}

// TestLength holds the length against its definition: there is an output for
// each time k/to that lies before n/from.
func TestLength(t *testing.T) {
	for _, from := range []int{500, 999, 1000, 1001, 4000, 11025, 44100, 192000} {
		for _, n := range []int{0, 1, 2, 3, 44, 45, 191, 192, 193, 4000, 44099, 44100, 44101} {
			want := 0
			for want*from < n*analysisRate {
				want++
			}
			y := NewResampler(analysisRate).Resample(nil, make([]float64, n), from)
			if len(y) != want {
				t.Errorf("%d samples at %d Hz give %d, want %d", n, from, len(y), want)
			}
		}
	}
}

// TestEdgesAreZero compares the ends with the middle of the same signal
// between stretches of zeros.
func TestEdgesAreZero(t *testing.T) {
	for _, from := range []int{500, 4000, 11025, 16001} {
		for _, n := range []int{1, 5, 40, from} {
			x := checkNoise(n)
			r := NewResampler(analysisRate)
			short := r.Resample(nil, x, from)
			padded := append(make([]float64, from), x...)
			padded = append(padded, make([]float64, from)...)
			long := r.Resample(nil, padded, from)
			for k, v := range short {
				if e := math.Abs(v - long[analysisRate+k]); e > 1e-14 {
					t.Errorf("%d samples at %d Hz: sample %d is %v, between zeros %v", n, from, k, v, long[analysisRate+k])
					break
				}
			}
		}
	}
}

// TestSameBits checks that the result depends on the signal alone: not on dst,
// on what was resampled before, nor on whether plans were dropped.
func TestSameBits(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	rates := []int{4000, 2000, 44100, 11025, 4001, 500, 16001, 1000}
	signals := make([][]float64, len(rates))
	want := make([][]float64, len(rates))
	for i, from := range rates {
		signals[i] = make([]float64, from/2)
		for j := range signals[i] {
			signals[i][j] = rng.NormFloat64()
		}
		want[i] = NewResampler(analysisRate).Resample(nil, signals[i], from)
	}
	r := NewResampler(analysisRate)
	dst := make([]float64, 10_000)
	for range 40 {
		i := rng.IntN(len(rates))
		for j := range dst {
			dst[j] = math.NaN()
		}
		x := slices.Clone(signals[i])
		got := r.Resample(dst, x, rates[i])
		if diff := cmp.Diff(want[i], got); diff != "" {
			t.Fatalf("%d Hz differs:\n%s", rates[i], diff)
		}
		if &got[0] != &dst[0] {
			t.Fatalf("%d Hz: dst was not used", rates[i])
		}
		if !slices.Equal(x, signals[i]) {
			t.Fatalf("%d Hz: the input was altered", rates[i])
		}
		if len(r.plans) > maxPlans {
			t.Fatalf("%d plans are kept, allowed %d", len(r.plans), maxPlans)
		}
	}
}

// TestPlanOrder checks that the plan used longest ago is the one dropped.
func TestPlanOrder(t *testing.T) {
	r := NewResampler(analysisRate)
	x := make([]float64, 10)
	for _, from := range []int{2000, 3000, 4000, 5000, 2000, 6000, 4000} {
		r.Resample(nil, x, from)
	}
	var got []int
	for _, p := range r.plans {
		got = append(got, p.from)
	}
	if diff := cmp.Diff([]int{4000, 6000, 2000, 5000}, got); diff != "" {
		t.Errorf("plans (-want +got):\n%s", diff)
	}
}

// TestTableIsBounded lays out the table of every rate there is.
func TestTableIsBounded(t *testing.T) {
	largest, at := 0, 0
	for from := MinRate; from <= MaxRate; from++ {
		if n := layOut(from, analysisRate).size(); n > largest {
			largest, at = n, from
		}
	}
	t.Logf("largest table: %d values, %.2f MB, at %d Hz", largest, float64(8*largest)/1e6, at)
	if 8*largest > 2_400_000 {
		t.Errorf("table of %d bytes at %d Hz, the documentation says 2.3 MB", 8*largest, at)
	}
}

// A recording at the wanted rate passes the same filter as one at a higher rate:
// four tones, one of them in the transition band, come out alike from 1 and 4 kHz.
func TestSameRateIsFiltered(t *testing.T) {
	tones := func(rate int) []float64 {
		x := make([]float64, 2*rate)
		for _, f := range []float64{60, 210, 390, 460} {
			for i := range x {
				x[i] += math.Sin(2 * math.Pi * f * float64(i) / float64(rate))
			}
		}
		return x
	}
	from1, from4 := tones(analysisRate), tones(4*analysisRate)
	y1 := NewResampler(analysisRate).Resample(nil, from1, analysisRate)
	y4 := NewResampler(analysisRate).Resample(nil, from4, 4*analysisRate)
	removed := 0.0
	for k := 100; k < len(y1)-100; k++ { // the ends feel the edge
		if d := math.Abs(y1[k] - y4[k]); d > 1e-4 {
			t.Fatalf("sample %d: %g from 1 kHz, %g from 4 kHz", k, y1[k], y4[k])
		}
		removed = math.Max(removed, math.Abs(y1[k]-from1[k]))
	}
	if removed < 0.3 {
		t.Errorf("the tone at 460 Hz is all there: the samples moved by at most %g", removed)
	}
}

func TestResampleAllocatesNothing(t *testing.T) {
	for _, from := range []int{500, 1000, 4000, 44100, 16001} {
		r := NewResampler(analysisRate)
		x := checkNoise(from / 4)
		dst := r.Resample(nil, x, from)
		if n := testing.AllocsPerRun(5, func() { dst = r.Resample(dst, x, from) }); n != 0 {
			t.Errorf("%d Hz: %v allocations", from, n)
		}
	}
}

func TestRatesMustBePositive(t *testing.T) {
	for name, call := range map[string]func(){
		"to 0":    func() { NewResampler(0) },
		"from −1": func() { NewResampler(analysisRate).Resample(nil, nil, -1) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			call()
		}()
	}
}
