package synth

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/synth/noise"
)

// Every heart, however it beats and wherever the recording cuts it, gives a
// truth that keeps the promise of a segmentation.
func TestTruthCoversRecording(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 400 {
		laws := SystoleLaws()
		h := NewHeart(MinRate+float64(rng.IntN(MaxRate-MinRate+1)), laws[rng.IntN(len(laws))], rng.Uint64())
		h.Premature, h.Missed = 0.2*rng.Float64(), 0.2*rng.Float64()
		rate := []int{500, 1000, 2000, 4000, 4410}[rng.IntN(5)]
		length := time.Duration(rng.Int64N(int64(5*time.Second))) + 2*time.Millisecond
		r, err := Render(h, length, rate)
		if err != nil {
			t.Errorf("%g bpm, %s, %v at %d Hz: %v", h.Rate, h.Law.Name, length, rate, err)
			continue
		}
		if got, want := len(r.Samples), pcg.ToSamples(length, rate); got != want {
			t.Errorf("%v at %d Hz: %d samples, want %d", length, rate, got, want)
		}
		s := pcg.Segmentation{Intervals: r.Truth}
		if err := s.Check(r.Length()); err != nil {
			t.Errorf("%g bpm, %s, %v at %d Hz: %v", h.Rate, h.Law.Name, length, rate, err)
		}
	}
}

// The boundaries of the truth are those of the beats, taken to the first sample
// that is not before them.
func TestTruthFollowsBeats(t *testing.T) {
	r := render(t, NewHeart(80, RestingWomen, 3), 15*time.Second)
	want := map[pcg.Interval]bool{}
	grid := func(d time.Duration) time.Duration {
		return pcg.FromSamples(int64(math.Ceil(d.Seconds()*4000-1e-9)), 4000)
	}
	for _, b := range r.Beats {
		for _, iv := range []pcg.Interval{b.S1, b.S2} {
			iv.Start, iv.End = max(0, grid(iv.Start)), min(r.Length(), grid(iv.End))
			if iv.Start < iv.End {
				want[iv] = true
			}
		}
	}
	for _, iv := range r.Truth {
		if iv.State.IsSound() {
			if !want[iv] {
				t.Errorf("%v is no sound of a beat", iv)
			}
			delete(want, iv)
		}
	}
	if len(want) > 0 {
		t.Errorf("missing in the truth: %v", want)
	}
}

// Equal hearts give equal recordings; what surrounds the heart moves neither
// its beats nor the sounds.
func TestDeterminism(t *testing.T) {
	h := NewHeart(66, RestingMen, 77)
	h.Premature = 0.1
	all := []Option{WithNoise(Pink, 10), func(t *Take) { t.Clicks, t.Inverted, t.Gain, t.Clip = 30, true, 2, 0.5 }}
	a := render(t, h, 8*time.Second, all...)
	other := h
	other.Seed++
	render(t, other, 3*time.Second, all...)
	b := render(t, h, 8*time.Second, all...)
	if diff := cmp.Diff(a, b, cmp.AllowUnexported(Beat{})); diff != "" {
		t.Errorf("two renderings differ:\n%s", diff)
	}
	plain := render(t, h, 8*time.Second)
	if !slices.Equal(a.Truth, plain.Truth) {
		t.Error("noise moved the truth")
	}
	moved := render(t, other, 8*time.Second)
	if slices.Equal(plain.Truth, moved.Truth) {
		t.Error("another seed gives the same beats")
	}
	long := render(t, h, 12*time.Second)
	if !slices.Equal(long.Samples[:7*4000], plain.Samples[:7*4000]) {
		t.Error("the beginning depends on the length")
	}
}

func TestInverted(t *testing.T) {
	h := NewHeart(66, RestingMen, 5)
	up := render(t, h, 3*time.Second, WithNoise(noise.White, 20))
	down := render(t, h, 3*time.Second, WithNoise(noise.White, 20), func(t *Take) { t.Inverted = true })
	for n, v := range up.Samples {
		if down.Samples[n] != -v {
			t.Fatalf("sample %d: %g and %g", n, v, down.Samples[n])
		}
	}
}

func TestClipping(t *testing.T) {
	h := NewHeart(66, RestingMen, 5)
	loud := render(t, h, 5*time.Second, func(t *Take) { t.Gain = 6 })
	clipped := render(t, h, 5*time.Second, func(t *Take) { t.Gain, t.Clip = 6, 0.8 })
	flat := 0
	for n, v := range clipped.Samples {
		switch want := loud.Samples[n]; {
		case math.Abs(v) > 0.8:
			t.Fatalf("sample %d is %g, beyond 0.8", n, v)
		case math.Abs(want) <= 0.8 && v != want:
			t.Fatalf("sample %d is %g, want %g untouched", n, v, want)
		case math.Abs(want) > 0.8:
			flat++
			if v != math.Copysign(0.8, want) {
				t.Fatalf("sample %d is %g, want 0.8 with the sign of %g", n, v, want)
			}
		}
	}
	if flat < 100 {
		t.Errorf("only %d samples are clipped", flat)
	}
}

// A click rises at the time that is recorded for it, over 2 ms.
func TestClicks(t *testing.T) {
	h := NewHeart(66, RestingMen, 5)
	clean := render(t, h, 3*time.Second)
	r := render(t, h, 3*time.Second, func(t *Take) { t.Clicks = 120 })
	if len(r.Clicks) < 3 || !slices.IsSorted(r.Clicks) {
		t.Fatalf("clicks at %v", r.Clicks)
	}
	inside := make([]bool, len(r.Samples))
	for _, c := range r.Clicks {
		first := pcg.ToSamples(c, r.Rate)
		for n := first; n < min(first+8, len(inside)); n++ {
			inside[n] = true
			if r.Samples[n] <= clean.Samples[n] {
				t.Errorf("click at %v: sample %d is not raised", c, n)
			}
		}
	}
	for n, v := range r.Samples {
		if !inside[n] && v != clean.Samples[n] {
			t.Fatalf("sample %d differs without a click", n)
		}
	}
}

// A third sound adds energy in early diastole, and the truth does not know it.
func TestThirdSound(t *testing.T) {
	h := steady(60)
	h.s3.Gain = 0.1
	with, without := render(t, h, 6*time.Second), render(t, steady(60), 6*time.Second)
	if !slices.Equal(with.Truth, without.Truth) {
		t.Error("a third sound moved the truth")
	}
	b := with.Beats[1]
	var energy, early float64
	for n := pcg.ToSamples(b.S1.Start, 4000); n < pcg.ToSamples(b.Next, 4000); n++ {
		d := with.Samples[n] - without.Samples[n]
		energy += d * d
		if at := pcg.FromSamples(int64(n), 4000) - b.S2.Start; at > 120*time.Millisecond && at < 240*time.Millisecond {
			early += d * d
		}
	}
	if energy == 0 || early < 0.98*energy {
		t.Errorf("%.3f of the third sound lies 120 to 240 ms after S2", early/energy)
	}
}

func TestRenderErrors(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Heart)
		rate   int
		length time.Duration
		opts   []Option
		want   string
	}{
		{"slow", func(h *Heart) { h.Rate = 30 }, 4000, time.Second, nil, "heart rate (bpm) 30"},
		{"not a number", func(h *Heart) { h.Rate = math.NaN() }, 4000, time.Second, nil, "heart rate (bpm) NaN"},
		{"variation", func(h *Heart) { h.CycleVariation = -1 }, 4000, time.Second, nil, "cycle variation -1"},
		{"breathing", func(h *Heart) { h.Breathing.Rate = 500 }, 4000, time.Second, nil, "breaths per minute 500"},
		{"aliasing", func(h *Heart) { h.m1.Partials = []Partial{{2000, 1}} }, 4000, time.Second, nil, "half the sampling rate"},
		{"murmur state", func(h *Heart) { h.Murmurs = []Murmur{{}} }, 4000, time.Second, nil, "murmur 1: state"},
		{"murmur extent", func(h *Heart) { h.Murmurs = []Murmur{{State: pcg.Systole, From: 1, To: 0.5}} }, 4000, time.Second, nil, "extent 1 to 0.5"},
		{"murmur shape", func(h *Heart) { h.Murmurs = []Murmur{{State: pcg.Systole, To: 1, Shape: "wavy"}} }, 4000, time.Second, nil, "unknown shape"},
		{"murmur band", func(h *Heart) { h.Murmurs = []Murmur{{State: pcg.Systole, To: 1, Shape: Plateau, Low: 300, High: 200}} }, 4000, time.Second, nil, "band 300 to 200"},
		{"murmur level", func(h *Heart) {
			h.Murmurs = []Murmur{{State: pcg.Systole, To: 1, Shape: Plateau, Low: 100, High: 200}}
		}, 4000, time.Second, nil, "level 0"},
		{"sampling rate", nil, 400, time.Second, nil, "sampling rate 400"},
		{"no sample", nil, 4000, 0, nil, "holds no sample"},
		{"colour", nil, 4000, time.Second, []Option{WithNoise("mauve", 3)}, "mauve"},
		{"snr", nil, 4000, time.Second, []Option{WithNoise(noise.White, math.NaN())}, "signal-to-noise"},
		{"click rate", nil, 4000, time.Second, []Option{func(t *Take) { t.Clicks = -1 }}, "clicks per minute"},
		{"recording gain", nil, 4000, time.Second, []Option{func(t *Take) { t.Gain = -1 }}, "gain -1"},
		{"clip", nil, 4000, time.Second, []Option{func(t *Take) { t.Clip = 2 }}, "clipping level 2"},
	}
	for _, test := range tests {
		h := NewHeart(70, RestingMen, 1)
		if test.change != nil {
			test.change(&h)
		}
		_, err := Render(h, test.length, test.rate, test.opts...)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
	}
}

func BenchmarkRender(b *testing.B) {
	h := NewHeart(70, RestingMen, 1)
	for b.Loop() {
		if _, err := Render(h, 15*time.Second, 4000, WithNoise(Pink, 20)); err != nil {
			b.Fatal(err)
		}
	}
}
