package degrade

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/synth/noise"
)

const testRate = 2000

// parse reads and opens a condition.
func parse(t *testing.T, text string) Condition {
	t.Helper()
	c, err := Parse(text)
	if err == nil {
		err = c.Open()
	}
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// beats returns a recording of 24-bit samples with a burst of 50 Hz in every second, and
// a loud artefact in the third.
func beats(seconds, rate int) *audio.Clip {
	x := make([]float64, seconds*rate)
	for i := range x {
		at := float64(i%rate) / float64(rate)
		x[i] = 0.1 * math.Sin(2*math.Pi*50*at) * math.Exp(-math.Pow((at-0.3)/0.05, 2))
		if i/rate == 2 {
			x[i] += 0.5 * math.Sin(2*math.Pi*100*at)
		}
	}
	return &audio.Clip{Samples: x, Frames: len(x), Rate: rate, BitsPerSample: 24}
}

// changed returns a recording under a condition, and leaves the given one as it is.
func changed(t *testing.T, condition string, clip *audio.Clip, recording string) *audio.Clip {
	t.Helper()
	got, err := tryChange(t, condition, clip, recording)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func tryChange(t *testing.T, condition string, clip *audio.Clip, recording string) (*audio.Clip, error) {
	t.Helper()
	own := *clip
	own.Samples = slices.Clone(clip.Samples)
	got, _, err := NewDegrader(parse(t, condition), 1).Change(&own, recording, 0)
	return got, err
}

// difference returns y − x.
func difference(y, x *audio.Clip) []float64 {
	d := slices.Clone(y.Samples)
	for i, v := range x.Samples {
		d[i] -= v
	}
	return d
}

// The ratio in the band is the one asked for: of the median window, which the artefact
// does not set. At 800 Hz and less the band has no upper end.
func TestSignalToNoiseRatio(t *testing.T) {
	for _, rate := range []int{500, 800, 1000, testRate, 4000, 11025} {
		clip := beats(7, rate)
		for _, condition := range []string{"noise=white,snr=10", "noise=pink,snr=0", "noise=brown,snr=-6", "noise=pink,snr=20"} {
			added := difference(changed(t, condition, clip, "a"), clip)
			d := newWorkspace()
			powers := []float64{}
			y := slices.Clone(d.band(clip.Samples, rate))
			for at := 0; at < len(y); at += rate {
				powers = append(powers, noise.Power(y[at:at+rate]))
			}
			slices.Sort(powers)
			got := 10 * math.Log10(powers[3]/noise.Power(d.band(added, rate)))
			_, want, _ := strings.Cut(condition, "snr=")
			if math.Abs(got-mustNumber(t, want)) > 0.001 {
				t.Errorf("%s at %d Hz: %.4f dB", condition, rate, got)
			}
		}
	}
}

func mustNumber(t *testing.T, text string) float64 {
	t.Helper()
	v, err := number("", text, -1000, 1000, "")
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// The noise of a recording depends on the seed, its name and what went before, and on
// nothing else: not on the level, other recordings or what was done to the buffers.
func TestRandomNumbers(t *testing.T) {
	clip := beats(3, testRate)
	weak, strong := difference(changed(t, "noise=pink,snr=10", clip, "a"), clip), difference(changed(t, "noise=pink,snr=-10", clip, "a"), clip)
	for i := range weak {
		if math.Abs(10*weak[i]-strong[i]) > 1e-5 {
			t.Fatalf("sample %d: noise of %g at 10 dB and of %g at −10 dB", i, weak[i], strong[i])
		}
	}
	c := parse(t, "noise=pink,snr=10")
	d := NewDegrader(c, 1)
	other := beats(5, 4000)
	if _, _, err := d.Change(other, "b", 0); err != nil {
		t.Fatal(err)
	}
	own := *clip
	own.Samples = slices.Clone(clip.Samples)
	again, _, err := d.Change(&own, "a", 0)
	if err != nil || !slices.Equal(difference(again, clip), weak) {
		t.Errorf("another noise after another recording, %v", err)
	}
	twice := difference(changed(t, "noise=pink,snr=10,noise=pink,snr=10", clip, "a"), clip)
	if r := correlation(twice, weak); r > 0.85 {
		t.Errorf("two noises: correlation with one of them %.2f: the same noise twice", r)
	}
	for what, change := range map[string]func() (*audio.Clip, audio.Format, error){
		"another seed":           func() (*audio.Clip, audio.Format, error) { return NewDegrader(c, 2).Change(&own, "a", 0) },
		"another recording":      func() (*audio.Clip, audio.Format, error) { return NewDegrader(c, 1).Change(&own, "b", 0) },
		"a second copy":          func() (*audio.Clip, audio.Format, error) { return NewDegrader(c, 1).Change(&own, "a", 1) },
		"the name of the second": func() (*audio.Clip, audio.Format, error) { return NewDegrader(c, 1).Change(&own, "a 1", 0) },
	} {
		own.Samples = slices.Clone(clip.Samples)
		got, _, err := change()
		if err != nil {
			t.Fatal(err)
		}
		if r := correlation(difference(got, clip), weak); math.Abs(r) > 0.1 {
			t.Errorf("%s: correlation of the noises %.2f", what, r)
		}
	}
}

func correlation(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum / math.Sqrt(noise.Power(a)*noise.Power(b)) / float64(len(a))
}

// Changes are made in the order in which they are written.
func TestOrder(t *testing.T) {
	clip := beats(4, testRate)
	below := func(c *audio.Clip) float64 { // power of the lowest frequencies
		sos, err := signal.ButterworthLowPass(4, 20, testRate)
		if err != nil {
			t.Fatal(err)
		}
		return noise.Power(signal.NewZeroPhase(sos).Filter(nil, c.Samples))
	}
	cutFirst := below(changed(t, "low-cut=100,noise=pink,snr=10", clip, "a"))
	cutLast := below(changed(t, "noise=pink,snr=10,low-cut=100", clip, "a"))
	if !(cutFirst > 20*cutLast) {
		t.Errorf("power below 20 Hz: %g with the cut first, %g with the cut last", cutFirst, cutLast)
	}
	if got := changed(t, "rate=500,bits=4", clip, "a"); got.Rate != 500 || !onSteps(got.Samples, 8) {
		t.Errorf("bits behind a rate: %d Hz, not on steps", got.Rate)
	}
	if got := changed(t, "bits=4,rate=500", clip, "a"); got.Rate != 500 || onSteps(got.Samples, 8) {
		t.Errorf("rate behind bits: %d Hz, on steps", got.Rate)
	}
}

func onSteps(x []float64, steps float64) bool {
	return !slices.ContainsFunc(x, func(v float64) bool { return v*steps != math.Round(v*steps) })
}

func TestRate(t *testing.T) {
	clip := beats(3, testRate)
	for _, rate := range []int{500, 1000, 3000, 11025} {
		got := changed(t, "rate="+shortest(float64(rate)), clip, "a")
		if got.Rate != rate || got.Frames != 3*rate || len(got.Samples) != 3*rate || got.Duration() != clip.Duration() {
			t.Errorf("%d Hz: %d frames, %d samples at %d Hz", rate, got.Frames, len(got.Samples), got.Rate)
		}
	}
	if got := changed(t, "rate=2000", clip, "a"); !slices.Equal(got.Samples, rounded(clip)) {
		t.Error("a recording that has the rate is changed")
	}
	// Through other rates and back, what both hold stays.
	back := changed(t, "rate=1000,rate=4000,rate=2000", clip, "a")
	if e := math.Sqrt(noise.Power(difference(back, clip)[100 : len(back.Samples)-100])); e > 1e-3 {
		t.Errorf("three rates: error %g", e)
	}
	long := &audio.Clip{Samples: make([]float64, audio.MaxFrames/300), Rate: 500, BitsPerSample: 16}
	if _, err := tryChange(t, "rate=192000", long, "a"); !errors.Is(err, audio.ErrTooLarge) {
		t.Errorf("a recording that would get too many samples: %v", err)
	}
}

func rounded(c *audio.Clip) []float64 {
	x := slices.Clone(c.Samples)
	audio.Round(x, c.BitsPerSample)
	return x
}

func TestBits(t *testing.T) {
	clip := beats(3, testRate)
	clip.Samples[0], clip.Samples[1], clip.Samples[2] = 1, -1, 1.5
	for bits, steps := range map[string]float64{"2": 2, "8": 128, "12": 2048} {
		got := changed(t, "bits="+bits, clip, "a")
		if !onSteps(got.Samples, steps) {
			t.Errorf("%s bits: not on steps", bits)
		}
		for i, v := range got.Samples[3:] {
			if e := math.Abs(v - clip.Samples[i+3]); e > 0.5/steps {
				t.Fatalf("%s bits: sample %d is off by %g", bits, i+3, e)
			}
		}
		if top := 1 - 1/steps; got.Samples[0] != top || got.Samples[1] != -1 || got.Samples[2] != top {
			t.Errorf("%s bits: full scale becomes %v", bits, got.Samples[:3])
		}
	}
}

func TestClip(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	clip := &audio.Clip{Samples: make([]float64, 10000), Frames: 10000, Rate: testRate, BitsPerSample: 24}
	for i := range clip.Samples {
		clip.Samples[i] = 0.1 * rng.NormFloat64()
	}
	for share, want := range map[string]int{"0.01": 100, "0.1": 1000, "0.99999": 10000, "0.00001": 1} {
		got := changed(t, "clip="+share, clip, "a").Samples
		level, at := 0.0, 0
		for _, v := range got {
			level = max(level, math.Abs(v))
		}
		for i, v := range got {
			if math.Abs(v) == level {
				at++
			} else if math.Abs(v-clip.Samples[i]) > 1e-7 {
				t.Fatalf("clip=%s: sample %d below the level is changed", share, i)
			}
			if math.Signbit(v) != math.Signbit(clip.Samples[i]) {
				t.Fatalf("clip=%s: sample %d has another sign", share, i)
			}
		}
		if at != want {
			t.Errorf("clip=%s: %d samples at the level, want %d", share, at, want)
		}
	}
}

// A cut halves its own frequency, and moves nothing in time.
func TestCut(t *testing.T) {
	tone := func(f float64) *audio.Clip {
		x := make([]float64, 8*testRate)
		for i := range x {
			x[i] = 0.5 * math.Sin(2*math.Pi*f*float64(i)/testRate)
		}
		return &audio.Clip{Samples: x, Frames: len(x), Rate: testRate, BitsPerSample: 24}
	}
	u := func(f float64) float64 { return math.Tan(math.Pi * f / testRate) }
	for _, tt := range []struct {
		condition string
		f, want   float64
	}{
		{"low-cut=40", 40, 0.5}, {"low-cut=40", 20, 1 / (1 + math.Pow(u(40)/u(20), 4))}, {"low-cut=40", 160, 1 / (1 + math.Pow(u(40)/u(160), 4))},
		{"high-cut=150", 150, 0.5}, {"high-cut=150", 50, 1 / (1 + math.Pow(u(50)/u(150), 4))}, {"high-cut=150", 400, 1 / (1 + math.Pow(u(400)/u(150), 4))},
		{"low-cut=1000", 400, 0}, {"high-cut=1000", 400, 1}, {"high-cut=1500", 400, 1},
	} {
		x := tone(tt.f)
		got := changed(t, tt.condition, x, "a")
		from, to := 2*testRate, 6*testRate
		sum, power := 0.0, 0.0
		for i := from; i < to; i++ {
			sum, power = sum+got.Samples[i]*x.Samples[i], power+x.Samples[i]*x.Samples[i]
		}
		if gain := sum / power; math.Abs(gain-tt.want) > 0.001 {
			t.Errorf("%s at %g Hz: gain %.4f, want %.4f", tt.condition, tt.f, gain, tt.want)
		}
	}
}

func TestGaps(t *testing.T) {
	clip := &audio.Clip{Samples: make([]float64, 20*testRate), Frames: 20 * testRate, Rate: testRate, BitsPerSample: 16}
	for i := range clip.Samples {
		clip.Samples[i] = 0.5
	}
	starts := map[int]bool{}
	for _, id := range []string{"a", "b", "c"} {
		got := changed(t, "gaps=0.05,gap-length=150ms", clip, id).Samples
		zeros, shortest, run := 0, len(got), 0
		for i, v := range append(got, 1) {
			switch {
			case v == 0:
				zeros, run = zeros+1, run+1
			case run > 0:
				shortest = min(shortest, run)
				starts[i-run] = true
				run = 0
			}
		}
		if zeros != testRate || shortest < 200 { // 1 s of 20 s: six gaps of 300 samples, and one of 200
			t.Errorf("%s: %d zeros, want %d; shortest gap %d, want 200", id, zeros, testRate, shortest)
		}
	}
	if len(starts) < 12 {
		t.Errorf("%d places of gaps in three recordings", len(starts))
	}
	if got := changed(t, "gaps=0.9999,gap-length=1h", clip, "a").Samples; len(slices.DeleteFunc(got, func(v float64) bool { return v == 0 })) != 4 {
		t.Error("one gap longer than the recording")
	}
}

// Silence has no level for a noise: it stays, and so does what is silent for more than
// half of its time.
func TestSilence(t *testing.T) {
	for _, n := range []int{1, 3, 700, 5 * testRate} {
		clip := &audio.Clip{Samples: make([]float64, n), Frames: n, Rate: testRate, BitsPerSample: 16}
		for _, condition := range Examples() {
			if got := changed(t, condition, clip, "a"); slices.ContainsFunc(got.Samples, func(v float64) bool { return v != 0 }) {
				t.Errorf("%s: %d zeros become something else", condition, n)
			}
		}
		clip.Samples[0] = 0.5
		changed(t, strings.Join(Examples(), ","), clip, "a")
	}
}

// Recorded noise is read once, cut at random, resampled and continued.
func TestRecordedNoise(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "ward")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	write := func(name string, f float64, n, rate int) {
		x := make([]float64, n)
		for i := range x {
			x[i] = 0.5 * math.Sin(2*math.Pi*f*float64(i)/float64(rate))
		}
		file, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(audio.WriteWAV(file, x, rate), file.Close()); err != nil {
			t.Fatal(err)
		}
	}
	write("hum.WAV", 150, 12000, 8000) // a whole number of periods
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("of the ward"), 0o600); err != nil {
		t.Fatal(err)
	}
	c := parse(t, "noise="+dir+",snr=3")
	if text := c.String(); !strings.HasPrefix(text, "noise=ward@") || !strings.HasSuffix(text, ",snr=3") || strings.Contains(text, dir) {
		t.Errorf("an opened condition is called %s", text)
	}
	clip := beats(4, testRate)
	for i := range clip.Samples {
		clip.Samples[i] *= 0.3
	}
	added := difference(changed(t, "noise="+dir+",snr=3", clip, "a"), clip)
	power := noise.Power(added)
	sos, err := signal.ButterworthBandPass(2, 140, 160, testRate)
	if err != nil {
		t.Fatal(err)
	}
	if within := noise.Power(signal.NewZeroPhase(sos).Filter(nil, added)); math.Abs(within/power-1) > 0.02 {
		t.Errorf("%.3f of the power of a hum of 150 Hz lies about 150 Hz", within/power)
	}
	other := difference(changed(t, "noise="+dir+",snr=3", clip, "b"), clip)
	if slices.Equal(other, added) {
		t.Error("two recordings have the same section")
	}

	write("silence.wav", 0, 4000, 4000)
	silent := 0
	for _, id := range strings.Split("abcdefgh", "") {
		if _, err := tryChange(t, "noise="+dir+",snr=3", clip, id); errors.Is(err, errSilentNoise) {
			silent++
		} else if err != nil {
			t.Fatal(err)
		}
	}
	if silent == 0 || silent == 8 {
		t.Errorf("%d of 8 recordings get the silent one of two files", silent)
	}
	for folder, want := range map[string]string{
		"pnk": "no colour and no folder", filepath.Join(dir, "notes.txt"): "folder of WAV files", t.TempDir(): "no WAV file",
	} {
		c, err := Parse("noise=" + folder + ",snr=3")
		if err == nil {
			err = c.Open()
		}
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", folder, err, want)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "broken.wav"), []byte("text"), 0o600); err != nil {
		t.Fatal(err)
	}
	broken, err := Parse("noise=" + dir + ",snr=3")
	if err == nil {
		err = broken.Open()
	}
	if err == nil || !strings.Contains(err.Error(), "broken.wav") {
		t.Errorf("a broken file: %v", err)
	}
}

// The samples are those that a file of the format holds, which nothing clips or scales.
func TestStoredSamples(t *testing.T) {
	for _, tt := range []struct {
		bits      int
		condition string
		want      audio.Format
	}{
		{16, "noise=pink,snr=30", audio.PCM16}, {8, "noise=pink,snr=30", audio.PCM16},
		{24, "noise=pink,snr=30", audio.Float32}, {16, "noise=pink,snr=-20", audio.Float32},
	} {
		clip := beats(3, testRate)
		clip.BitsPerSample = tt.bits
		got, format, err := NewDegrader(parse(t, tt.condition), 1).Change(clip, "a", 0)
		if err != nil || format != tt.want {
			t.Fatalf("%d bits, %s: %v, %v", tt.bits, tt.condition, format, err)
		}
		path := filepath.Join(t.TempDir(), "a.wav")
		file, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(format.Write(file, got.Samples, got.Rate), file.Close()); err != nil {
			t.Fatal(err)
		}
		back, err := new(audio.Decoder).DecodeFile(path)
		if err != nil || !slices.Equal(back.Samples, got.Samples) || back.Rate != got.Rate || back.Encoding != format.String() {
			t.Errorf("%d bits, %s: read back otherwise, %v", tt.bits, tt.condition, err)
		}
	}
}

func BenchmarkChange(b *testing.B) {
	for _, text := range append(Examples(), "noise=white,snr=5") {
		b.Run(text, func(b *testing.B) {
			c, err := Parse(text)
			if err != nil {
				b.Fatal(err)
			}
			d := NewDegrader(c, 1)
			x := beats(23, 4000)
			for b.Loop() {
				own := *x
				own.Samples = slices.Clone(x.Samples)
				if _, _, err := d.Change(&own, "a", 0); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
