package synth

import (
	"math"
	"slices"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// sounding returns the beats that sound and begin within the recording.
func sounding(r *Recording) []Beat {
	var beats []Beat
	for _, b := range r.Beats {
		if b.Kind != MissedBeat && b.Index >= 0 {
			beats = append(beats, b)
		}
	}
	return beats
}

// rhythm returns the beats of a long recording, without the work of its samples.
func rhythm(t *testing.T, h Heart, length time.Duration) *Recording {
	t.Helper()
	beats, err := h.schedule(length)
	if err != nil {
		t.Fatal(err)
	}
	return &Recording{Beats: slices.DeleteFunc(beats, func(b Beat) bool { return b.S1.Start >= length })}
}

// spread returns the mean and the standard deviation.
func spread(x []float64) (mean, sd float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		sd += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sd / float64(len(x)-1))
}

// The mean cycle is that of the rate, and cycle and systole vary as asked.
func TestRateAndVariation(t *testing.T) {
	h := NewHeart(75, RestingMen, 9)
	h.Breathing.Swing = 0
	h.CycleVariation, h.systoleVariation = 0.04, 0.02
	r := rhythm(t, h, 4*time.Minute)
	var cycles, systoles []float64
	for _, b := range sounding(r) {
		cycles = append(cycles, (b.Next - b.S1.Start).Seconds())
		systoles = append(systoles, (b.S2.Start - b.S1.Start).Seconds())
	}
	n := math.Sqrt(float64(len(cycles)))
	mean, sd := spread(cycles)
	if want := 60 / h.Rate; math.Abs(mean-want) > 4*0.04*want/n {
		t.Errorf("mean cycle %.4f s, want %.4f", mean, want)
	}
	if got := sd / mean; math.Abs(got-0.04) > 0.005 {
		t.Errorf("cycle varies by %.4f, want 0.04", got)
	}
	mean, sd = spread(systoles)
	if want := h.Law.Systole(75).Seconds(); math.Abs(mean-want) > 4*0.02*want/n {
		t.Errorf("mean systole %.4f s, want %.4f", mean, want)
	}
	if got := sd / mean; math.Abs(got-0.02) > 0.0025 {
		t.Errorf("systole varies by %.4f, want 0.02", got)
	}
}

// The split stays below 20 ms in expiration and reaches 20 to 40 ms in
// inspiration (common textbook values), where the cycle is shortest.
func TestBreathing(t *testing.T) {
	h := NewHeart(70, RestingWomen, 6)
	h.CycleVariation, h.systoleVariation = 0, 0
	h.Breathing.Swing = 0.05
	r := rhythm(t, h, 2*time.Minute)
	beats := sounding(r)
	narrow, wide := beats[0], beats[0]
	for _, b := range beats {
		if b.Split < narrow.Split {
			narrow = b
		}
		if b.Split > wide.Split {
			wide = b
		}
	}
	if narrow.Split >= 20*time.Millisecond {
		t.Errorf("narrowest split %v", narrow.Split)
	}
	if wide.Split < 20*time.Millisecond || wide.Split > 40*time.Millisecond {
		t.Errorf("widest split %v", wide.Split)
	}
	longer := narrow.Next - narrow.S1.Start - (wide.Next - wide.S1.Start)
	if want := 0.1 * 60 / 70; math.Abs(longer.Seconds()-want) > 0.2*want {
		t.Errorf("the cycle is %v longer in expiration, want about %.3f s", longer, want)
	}
	if longer := wide.S2.Duration() - narrow.S2.Duration(); longer <= 0 || longer > wide.Split-narrow.Split {
		t.Errorf("S2 is %v longer in inspiration, the split %v", longer, wide.Split-narrow.Split)
	}
}

// An early beat comes at the coupling and is followed by a pause that makes two
// cycles of the two.
func TestPrematureBeat(t *testing.T) {
	h := steady(60)
	plain := sounding(rhythm(t, h, 40*time.Second))
	h.Premature = 0.2
	early := 0
	for k, b := range sounding(rhythm(t, h, 40*time.Second)) {
		want := plain[k].S1.Start
		if b.Kind == PrematureBeat {
			early++
			want -= stretch(time.Second, 1-h.coupling)
		}
		if b.Index != k || b.S1.Start != want {
			t.Errorf("beat %d: index %d, kind %d, begins at %v, want %v", k, b.Index, b.Kind, b.S1.Start, want)
		}
	}
	if early < 3 {
		t.Errorf("%d early beats in 40 s", early)
	}
}

// A missed beat leaves silence, one long diastole, and the others in place.
func TestMissedBeat(t *testing.T) {
	h := steady(60)
	h.Murmurs = []Murmur{{State: pcg.Systole, To: 1, Shape: Plateau, Low: 100, High: 300, Level: 0.05}}
	plain := render(t, h, 30*time.Second)
	h.Missed = 0.2
	r := render(t, h, 30*time.Second)
	missed := 0
	for i, b := range r.Beats {
		gone := plain.Beats[i]
		switch {
		case b.Kind == MissedBeat:
			missed++
			if b.S1.Start != gone.S1.Start || b.S1.Duration() != 0 || i == 0 || r.Beats[i-1].Next != gone.Next {
				t.Errorf("missed beat is %+v after %+v", b, r.Beats[i-1])
			}
			for n := pcg.ToSamples(gone.S1.Start, 4000); n < min(len(r.Samples), pcg.ToSamples(gone.S2.End, 4000)); n++ {
				if math.Abs(r.Samples[n]) > 1e-3 {
					t.Fatalf("sample %d of the missed beat is %g", n, r.Samples[n])
				}
			}
		default:
			gone.Next = b.Next // may pass over a missed beat
			if b != gone {
				t.Errorf("beat %d became %+v", b.Index, b)
			}
		}
	}
	if got, want := len(r.Truth), len(plain.Truth)-4*missed; missed < 3 || got != want {
		t.Errorf("%d intervals with %d missed beats, want %d", got, missed, want)
	}
}

// Random ectopy comes as often as asked, apart from beats that cannot be early.
func TestEctopyRate(t *testing.T) {
	h := NewHeart(60, RestingMen, 12)
	h.Premature, h.Missed = 0.1, 0.05
	r := rhythm(t, h, 4*time.Minute)
	count := map[BeatKind]int{}
	for i, b := range r.Beats {
		count[b.Kind]++
		if i > 0 && b.Kind != RegularBeat && r.Beats[i-1].Kind != RegularBeat {
			t.Errorf("beats %d and %d are both irregular", b.Index-1, b.Index)
		}
	}
	n := float64(len(r.Beats))
	if got := float64(count[MissedBeat]) / n; math.Abs(got-0.045) > 0.03 {
		t.Errorf("%.3f of the beats are missed", got)
	}
	if got := float64(count[PrematureBeat]) / n; math.Abs(got-0.085) > 0.04 {
		t.Errorf("%.3f of the beats are premature", got)
	}
}

// A rate that leaves no room for the sounds is an error that says so.
func TestNoRoom(t *testing.T) {
	h := NewHeart(200, Exercise, 1)
	h.m1.Duration = 120 * time.Millisecond
	if _, err := Render(h, 5*time.Second, 4000); err == nil {
		t.Error("S1 of 120 ms fits into 200 bpm")
	}
}

// steady returns a heart without any variation.
func steady(rate float64) Heart {
	h := NewHeart(rate, RestingMen, 21)
	h.CycleVariation, h.systoleVariation, h.loudnessVariation, h.Breathing.Swing = 0, 0, 0, 0
	return h
}
