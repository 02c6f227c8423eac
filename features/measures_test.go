package features

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth"
)

func sine(n int, amplitude, f, fs float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * math.Sin(2*math.Pi*f*float64(i)/fs)
	}
	return x
}

// A sine of amplitude a has the RMS a/√2, the mean of |x| 2a/π, the crest √2,
// the skewness 0, the kurtosis 3/2 and two crossings a period.
func TestLevelOfASine(t *testing.T) {
	const a, f = 0.7, 50.0
	l := levelOf(sine(10_000, a, f, 10_000), 1)
	for what, v := range map[string][2]float64{
		"rms":         {l.rms(), a / math.Sqrt2},
		"mean |x|":    {l.meanAbs, 2 * a / math.Pi},
		"peak":        {l.peak, a},
		"skewness":    {l.moments.skewness(), 0},
		"kurtosis":    {l.moments.kurtosis(), 1.5},
		"crossings/s": {float64(l.crossings), 2*f - 1}, // the first sample is a zero
	} {
		if math.Abs(v[0]-v[1]) > 1e-4 {
			t.Errorf("%s is %v, want %v", what, v[0], v[1])
		}
	}
}

// Moments of the exponential distribution: skewness 2, kurtosis 9.
func TestMomentsOfAnExponential(t *testing.T) {
	const n = 1_000_000
	x := make([]float64, n)
	for i := range x {
		x[i] = -math.Log(1 - (float64(i)+0.5)/n)
	}
	m := momentsOf(x)
	if math.Abs(m.skewness()-2) > 1e-2 || math.Abs(m.kurtosis()-9) > 0.1 {
		t.Errorf("skewness %v and kurtosis %v, want 2 and 9", m.skewness(), m.kurtosis())
	}
}

func TestStatistics(t *testing.T) {
	sorted := []float64{1, 2, 4, 8, 16}
	for what, v := range map[string][2]float64{
		"mean":   {mean(sorted), 6.2},
		"sd":     {standardDeviation(sorted), math.Sqrt(37.2)}, // 148.8/4
		"median": {median(sorted), 4},
		"iqr":    {interquartileRange(sorted), 6},
	} {
		if math.Abs(v[0]-v[1]) > 1e-12 {
			t.Errorf("%s is %v, want %v", what, v[0], v[1])
		}
	}
	for what, v := range map[string]float64{
		"mean of none": mean(nil), "median of none": median(nil),
		"sd of one": standardDeviation(sorted[:1]), "iqr of one": interquartileRange(sorted[:1]),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s is %v, want NaN", what, v)
		}
	}
}

// The sign of a zero does not count, nor does a zero before all else.
func TestZerosAreNoCrossings(t *testing.T) {
	minus := math.Copysign(0, -1)
	for _, c := range []struct {
		y    []float64
		want int
	}{
		{[]float64{1, -1, 1, 1, -2}, 3},
		{[]float64{1, minus, 1, 0, -2}, 1},
		{[]float64{minus, 0, 3, 0, 0, -1, 0, -1}, 1},
		{[]float64{0, minus, 0}, 0},
	} {
		if got := levelOf(c.y, 1).crossings; got != c.want {
			t.Errorf("%v: %d crossings, want %d", c.y, got, c.want)
		}
	}
}

// Two independent normal values differ by at most 0.2 SD with the probability
// erf(0.1), so that the sample entropy of white noise is −ln erf(0.1) = 2.185
// whatever m (from the definition of Richman and Moorman 2000). A sequence
// that repeats exactly has the entropy ln(N₂/N₃) of its ends alone.
func TestSampleEntropy(t *testing.T) {
	var m templateMatcher
	want := -math.Log(math.Erf(0.1))
	if got := m.sampleEntropy(noise(6000, 3, 5)); math.Abs(got-want) > 0.03 {
		t.Errorf("white noise: %v, want %v", got, want)
	}
	if got := m.sampleEntropy(sine(500, 1, 10, 1000)); got > 0.3 {
		t.Errorf("sine: %v, want little", got)
	}
	if got := m.sampleEntropy([]float64{0, 1, 0, 1, 0, 1, 0, 1}); got != 0 {
		t.Errorf("alternation: %v, want 0", got)
	}
	if got := m.sampleEntropy([]float64{1, 2, 4, 8, 16, 32}); !math.IsNaN(got) {
		t.Errorf("no repetition: %v, want NaN", got)
	}
}

// twoParts returns a sound of two damped parts that lie the given time apart.
func twoParts(seconds, second float64) []float64 {
	x := make([]float64, 2000)
	for i := range x {
		for _, p := range [2][3]float64{{1.04, 60, 1}, {1.04 + seconds, 55, second}} {
			u := float64(i)/signal.AnalysisRate - p[0]
			x[i] += 0.2 * p[2] * math.Exp(-u*u/(0.009*0.009)) * math.Cos(2*math.Pi*p[1]*u)
		}
	}
	return x
}

// splitIn returns split and confidence of an S2 from 1.0 to 1.15 s.
func splitIn(t *testing.T, x []float64) (float64, float64) {
	t.Helper()
	const ms = time.Millisecond
	iv := []pcg.Interval{
		{Start: 600 * ms, End: 720 * ms, State: pcg.S1}, {Start: 720 * ms, End: 1000 * ms, State: pcg.Systole},
		{Start: 1000 * ms, End: 1150 * ms, State: pcg.S2}, {Start: 1150 * ms, End: 1500 * ms, State: pcg.Diastole},
		{Start: 1500 * ms, End: 1620 * ms, State: pcg.S1},
	}
	v := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: iv}).Cycles[0].Values
	return v[columnOf(t, "s2_split_s")], v[columnOf(t, "s2_split_confidence")]
}

// The split of two parts is found to 4 ms from 25 ms on; one part has none.
// With the second part at half the height, confidence falls and the split stays.
func TestSplit(t *testing.T) {
	for _, want := range []float64{0.025, 0.030, 0.040, 0.050, 0.060} {
		for _, height := range []float64{1, 0.5} {
			got, confidence := splitIn(t, twoParts(want, height))
			if !(math.Abs(got-want) <= 0.004) || !(confidence > 0.05 && confidence <= 1) {
				t.Errorf("parts %v s apart, second of %v: split %v s, confidence %v", want, height, got, confidence)
			}
		}
	}
	if got, confidence := splitIn(t, twoParts(0, 1)); !math.IsNaN(got) || confidence != 0 {
		t.Errorf("one part: split %v s, confidence %v; want null and 0", got, confidence)
	}
}

// On rendered hearts, whose sounds have several partials each and noise 20 dB
// below, the median split is found to 3 ms from 25 ms on, in nearly all beats;
// without a split, and at the 8 ms of expiration, next to none is found. In
// between, partials beat and confidence is low.
func TestSplitOfRenderedHearts(t *testing.T) {
	for _, ms := range []int{0, 8, 25, 30, 40, 50, 60} {
		delay := time.Duration(ms) * time.Millisecond
		var found []float64
		cycles := 0
		for seed := range uint64(3) {
			h := synth.NewHeart(70, synth.Exercise, seed+1)
			h.Breathing.SplitExpiration, h.Breathing.SplitInspiration = delay, delay
			r, err := synth.Render(h, 15*time.Second, signal.AnalysisRate, synth.WithNoise(synth.Pink, 20))
			if err != nil {
				t.Fatal(err)
			}
			f := extract(t, Input{Raw: r.Samples, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(r.Samples), Intervals: r.Truth})
			cycles += len(f.Cycles)
			for _, c := range f.Cycles {
				if v := c.Values[columnOf(t, "s2_split_s")]; !math.IsNaN(v) {
					found = append(found, v)
				}
			}
		}
		slices.Sort(found)
		switch {
		case ms < 20 && len(found) > cycles/10:
			t.Errorf("split of %d ms: found in %d of %d beats, want next to none", ms, len(found), cycles)
		case ms >= 25 && (len(found) < cycles*9/10 || math.Abs(median(found)-delay.Seconds()) > 0.003):
			t.Errorf("split of %d ms: found in %d of %d beats, median %v s", ms, len(found), cycles, median(found))
		}
	}
}

// Clipping a sine at the level c cuts the share 2 acos(c)/π of the samples.
func TestClippedShare(t *testing.T) {
	for _, rate := range []int{2000, 4000, 44100} {
		for _, level := range []float64{0.3, 0.7, 0.95} {
			x := sine(2*rate, 1, 10, float64(rate))
			for i, v := range x {
				x[i] = math.Max(-level, math.Min(level, v))
			}
			f := extract(t, Input{Raw: x, RawRate: rate, Wave: signal.NewWaveform(sine(2*signal.AnalysisRate, 1, 10, signal.AnalysisRate))})
			want := 2 * math.Acos(level) / math.Pi
			if got := value(t, f, "raw_clipped_share"); math.Abs(got-want) > 0.02 {
				t.Errorf("%d Hz, clipped at %v: share %v, want %v", rate, level, got, want)
			}
		}
		x := sine(2*rate, 1, 10.37, float64(rate))
		f := extract(t, Input{Raw: x, RawRate: rate, Wave: signal.NewWaveform(sine(2*signal.AnalysisRate, 1, 10.37, signal.AnalysisRate))})
		if got := value(t, f, "raw_clipped_share"); got != 0 {
			t.Errorf("%d Hz, not clipped: share %v", rate, got)
		}
		// A sine of full scale: −3.01 dB.
		if got := value(t, f, "raw_rms_db"); math.Abs(got+3.0103) > 0.01 {
			t.Errorf("%d Hz: level of a sine of full scale %v dB", rate, got)
		}
	}
}

// A faint sound on an offset 10⁶ times as great keeps its level.
func TestRawLevelWithoutOffset(t *testing.T) {
	x := sine(10_000, 1e-6, 50, signal.AnalysisRate)
	for i := range x {
		x[i] += 0.5
	}
	f := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x)})
	if got, want := value(t, f, "raw_rms_db"), -120-3.0103; math.Abs(got-want) > 1e-4 {
		t.Errorf("level %v dB, want %v", got, want)
	}
}

func TestFlatShare(t *testing.T) {
	x := noise(4000, 0.1, 1)
	for i := 1000; i < 1200; i++ { // 50 ms at 4 kHz
		x[i] = 0.25
	}
	for i := 3000; i < 3199; i++ { // a sample less
		x[i] = -0.1
	}
	f := extract(t, Input{Raw: x, RawRate: 4000, Wave: signal.NewWaveform(x[:1000])})
	if got, want := value(t, f, "raw_flat_share"), 200.0/4000; got != want {
		t.Errorf("flat share %v, want %v", got, want)
	}
}

// Runs at the limits count wherever they lie, shorter ones and others do not.
func TestClippedShareCountsAllRuns(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	for trial := range 50 {
		x := noise(5000+rng.IntN(5000), 0.01, uint64(trial))
		clipped := 0
		for at, k := 0, 0; ; k++ {
			at += 2 + rng.IntN(4000)
			n := 1 + rng.IntN(200)
			if at+n > len(x) {
				break
			}
			level := []float64{-0.5, 0.5, 0.3}[k%3]
			for i := range n {
				x[at+i] = level
			}
			if n >= 4 && k%3 < 2 { // 1 ms at 4 kHz
				clipped += n
			}
			at += n
		}
		x[0], x[len(x)-1] = -0.5, 0.5
		f := extract(t, Input{Raw: x, RawRate: 4000, Wave: signal.NewWaveform(x[:1000])})
		if got, want := value(t, f, "raw_clipped_share"), float64(clipped)/float64(len(x)); got != want {
			t.Errorf("trial %d: clipped share %v, want %v", trial, got, want)
		}
	}
}

// Runs are found wherever they lie, next to each other and at the ends.
func TestRunsCountEverySample(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for range 2000 {
		x := make([]float64, rng.IntN(40))
		for i := range x {
			if x[i] = float64(rng.IntN(3)); i > 0 && rng.IntN(2) > 0 {
				x[i] = x[i-1]
			}
		}
		const low, high = 0.5, 2 // without 1
		for least := 1; least < 8; least++ {
			want, run := 0, 0
			for i, v := range x {
				if run++; i+1 == len(x) || x[i+1] != v {
					if run >= least && v != 1 {
						want += run
					}
					run = 0
				}
			}
			if got := inRuns(x, least, low, high); got != want {
				t.Fatalf("%v: %d samples in runs of %d, want %d", x, got, least, want)
			}
		}
	}
}

// A sound of a known level above what lies between the sounds.
func TestSoundToPause(t *testing.T) {
	const seconds, ratioDB = 8, 20
	iv := beats(100*time.Millisecond, 8, usual)
	x := sine(seconds*signal.AnalysisRate, 0.01, 100, signal.AnalysisRate)
	for _, i := range iv {
		if !i.State.IsSound() {
			continue
		}
		for k := pcg.ToSamples(i.Start, signal.AnalysisRate); k < pcg.ToSamples(i.End, signal.AnalysisRate); k++ {
			x[k] *= math.Pow(10, ratioDB/20.0)
		}
	}
	f := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: iv})
	if got := value(t, f, "sound_to_pause_db"); math.Abs(got-ratioDB) > 1 {
		t.Errorf("sounds %v dB above pauses, want %v", got, ratioDB)
	}
}

// A beat every 0.8 s, nearly as loud as the one before, is periodic at 0.8 s and
// its cycles are alike; noise is neither.
func TestRhythm(t *testing.T) {
	x := make([]float64, 12*signal.AnalysisRate)
	for i := range x {
		u := math.Mod(float64(i)/signal.AnalysisRate, 0.8)
		x[i] = 0.3*math.Exp(-math.Pow((u-0.2)/0.03, 2))*math.Sin(2*math.Pi*50*u) +
			0.2*math.Exp(-math.Pow((u-0.5)/0.02, 2))*math.Sin(2*math.Pi*70*u)
		x[i] *= 1 + 0.01*math.Sin(math.Floor(float64(i)/signal.AnalysisRate/0.8)/2)
	}
	beat := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x)})
	n := noise(12*signal.AnalysisRate, 0.1, 1)
	random := extract(t, Input{Raw: n, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(n)})
	if p := value(t, beat, "envelope_period_s"); p != 0.8 {
		t.Errorf("period %v s, want 0.8 s", p)
	}
	if c := value(t, beat, "envelope_periodicity"); c < 0.999 {
		t.Errorf("periodicity %v, want 1", c)
	}
	if c := value(t, random, "envelope_periodicity"); c > 0.3 {
		t.Errorf("periodicity of noise %v, want little", c)
	}
	if r := value(t, beat, "envelope_stack_singular_ratio"); r > 0.01 {
		t.Errorf("σ₂/σ₁ %v, want 0", r)
	}
	if a, b := value(t, beat, "envelope_autocorrelation_sample_entropy"), value(t, random, "envelope_autocorrelation_sample_entropy"); !(a < b) {
		t.Errorf("entropy of a beat %v, of noise %v", a, b)
	}
}

// The correlation does not depend on an offset, beyond what it takes of the digits
// of the samples.
func TestCorrelationAndOffset(t *testing.T) {
	const n = 200
	x, y := noise(n, 1, 31), noise(n, 1, 32)
	for i := range y {
		y[i] += 2 * x[i]
	}
	want := correlation(x, y, sumsOf(x), sumsOf(y))
	if math.Abs(want-2/math.Sqrt(5)) > 0.05 {
		t.Errorf("correlation %v, want nearly %v", want, 2/math.Sqrt(5))
	}
	moved := make([]float64, n)
	for _, offset := range []float64{1, 30, 1e6} {
		for i := range moved {
			moved[i] = x[i] + offset
		}
		if got := correlation(moved, y, sumsOf(moved), sumsOf(y)); math.Abs(got-want) > 1e-12+1e-16*offset {
			t.Errorf("offset %v: correlation %v, want %v", offset, got, want)
		}
	}
	if got := correlation(make([]float64, n), y, sums{}, sumsOf(y)); !math.IsNaN(got) {
		t.Errorf("with a constant: %v, want NaN", got)
	}
}

// A murmur of the middle of systole shows there and nowhere else.
func TestMurmurThirds(t *testing.T) {
	const ms = time.Millisecond
	iv := beats(100*ms, 4, [4]time.Duration{120 * ms, 300 * ms, 95 * ms, 345 * ms})
	x := noise(4*signal.AnalysisRate, 1e-4, 1)
	for _, i := range iv {
		from, to := pcg.ToSamples(i.Start, signal.AnalysisRate), pcg.ToSamples(i.End, signal.AnalysisRate)
		for k := from; k < to; k++ {
			u := float64(k-from) / float64(to-from)
			switch i.State {
			case pcg.S1, pcg.S2:
				x[k] += 0.2 * math.Pow(math.Sin(math.Pi*u), 2) * math.Sin(2*math.Pi*50*float64(k)/signal.AnalysisRate)
			case pcg.Systole:
				x[k] += 0.02 * math.Exp(-math.Pow((u-0.5)/0.08, 2)) * math.Sin(2*math.Pi*250*float64(k)/signal.AnalysisRate)
			}
		}
	}
	f := extract(t, Input{Raw: x, RawRate: signal.AnalysisRate, Wave: signal.NewWaveform(x), Intervals: iv})
	first := value(t, f, "systole_first_third_band_150_400_hz_to_s1_db_mean")
	middle := value(t, f, "systole_middle_third_band_150_400_hz_to_s1_db_mean")
	last := value(t, f, "systole_last_third_band_150_400_hz_to_s1_db_mean")
	if middle < first+15 || middle < last+15 {
		t.Errorf("thirds of systole at %.1f, %.1f and %.1f dB, want the middle 15 dB above", first, middle, last)
	}
	if d := value(t, f, "diastole_middle_third_band_150_400_hz_to_s2_db_mean"); d > middle-20 {
		t.Errorf("diastole at %.1f dB, systole at %.1f dB", d, middle)
	}
	if v := value(t, f, "systole_centroid_hz_mean"); math.Abs(v-250) > 5 {
		t.Errorf("centroid of systole %v Hz, want 250 Hz", v)
	}
}

// Successive cycles are those that touch: a gap makes no difference of RR.
func TestSuccessiveDifferences(t *testing.T) {
	cycles := []pcg.CycleTimes{
		{0, 1, 2, 3, 800e6}, {800e6, 801e6, 802e6, 803e6, 1660e6}, // +60 ms
		{3000e6, 3001e6, 3002e6, 3003e6, 3900e6}, // after a gap
		{3900e6, 3901e6, 3902e6, 3903e6, 4770e6}, // −30 ms
	}
	r := &recording{cycles: cycles}
	if got, want := rmssd(cycles, (*pcg.CycleTimes).Length), math.Sqrt((0.06*0.06+0.03*0.03)/2); math.Abs(got-want) > 1e-12 {
		t.Errorf("RMSSD %v, want %v", got, want)
	}
	if got := shareOver50ms(r); got != 0.5 {
		t.Errorf("share over 50 ms %v, want 0.5", got)
	}
}
