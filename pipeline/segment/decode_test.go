package segment

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// everyPath calls visit with each division of frames into runs in the order
// of the cycle.
func everyPath(frames int, visit func([]Run)) {
	var extend func(path []Run)
	extend = func(path []Run) {
		state, at := pcg.S1, 0
		if len(path) > 0 {
			state, at = path[len(path)-1].State.Next(), path[len(path)-1].End
		}
		if at == frames {
			visit(path)
			return
		}
		for end := at + 1; end <= frames; end++ {
			extend(append(path, Run{state, at, end}))
		}
	}
	for _, first := range pcg.Cycle {
		for end := 1; end <= frames; end++ {
			extend([]Run{{first, 0, end}})
		}
	}
}

// pathScore is the definition in the comment of Decoder, written a second
// time, with the unseen ends summed one by one.
func pathScore(path []Run, logLikelihood []float64, laws *Laws) float64 {
	mu := 0.0
	for j := range laws {
		for d := 1; d <= laws[j].Max(); d++ {
			mu += float64(d) * math.Exp(laws[j].LogP(d))
		}
	}
	p := 1 / mu
	emission := 0.0
	for i, r := range path {
		law := &laws[r.State-pcg.S1]
		k := r.End - r.Start
		sum := 0.0
		for before := 0; before <= law.Max(); before++ {
			if before > 0 && i > 0 {
				break
			}
			for after := 0; before+k+after <= law.Max(); after++ {
				if after > 0 && i < len(path)-1 {
					break
				}
				sum += math.Exp(law.LogP(before + k + after))
			}
		}
		p *= sum
		for t := r.Start; t < r.End; t++ {
			emission += logLikelihood[4*t+int(r.State-pcg.S1)]
		}
	}
	return math.Log(p) + emission
}

func randomLaws(rng *rand.Rand, longest int) *Laws {
	laws := new(Laws)
	for j := range laws {
		shortest := 1 + rng.IntN(2)
		w := make([]float64, 1+rng.IntN(longest-shortest+1))
		for k := range w {
			w[k] = rng.Float64()
		}
		if len(w) > 2 && rng.IntN(2) == 0 {
			w[1] = 0 // a hole in the law
		}
		laws[j].Set(shortest, w)
	}
	return laws
}

func TestDecodeAgainstEnumeration(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	decoder := new(Decoder)
	for trial := range 400 {
		frames := 1 + rng.IntN(10)
		laws := randomLaws(rng, 5)
		ll := make([]float64, 4*frames)
		for i := range ll {
			ll[i] = 3 * rng.NormFloat64()
		}
		total, sum, best := 0.0, 0.0, math.Inf(-1)
		var want []Run
		zero := make([]float64, len(ll))
		everyPath(frames, func(path []Run) {
			total += math.Exp(pathScore(path, zero, laws))
			s := pathScore(path, ll, laws)
			sum += math.Exp(s)
			if s > best {
				best = s
				want = append([]Run(nil), path...)
			}
		})
		if math.Abs(total-1) > 1e-12 {
			t.Fatalf("trial %d: the probabilities of all paths of %d frames add up to %.15g", trial, frames, total)
		}
		decoder.Load(ll)
		if got := decoder.Likelihood(laws); !(math.Abs(got-math.Log(sum)) < 1e-9) {
			t.Fatalf("trial %d: log-likelihood %.12g, sum over all paths %.12g", trial, got, math.Log(sum))
		}
		score := decoder.Decode(laws)
		if !(math.Abs(score-best) < 1e-9) {
			t.Fatalf("trial %d: score %.12g, best of all paths %.12g", trial, score, best)
		}
		got := decoder.Runs(nil)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("trial %d: best path of %d frames (-enumerated +decoded):\n%s", trial, frames, diff)
		}
		if s := decoder.Score(got, laws); !(math.Abs(s-best) < 1e-9) {
			t.Fatalf("trial %d: Score of the best path %.12g, want %.12g", trial, s, best)
		}
	}
}

// Where paths score alike the shorter sojourn wins, from the end of the recording
// backwards. Of six frames without likelihoods, under laws of one, two or three
// frames each, the best paths are 1 + 3 + 2 and 2 + 3 + 1.
func TestDecodeTies(t *testing.T) {
	laws := new(Laws)
	for j := range laws {
		laws[j].Set(1, []float64{1, 1, 1})
	}
	decoder := new(Decoder)
	decoder.Load(make([]float64, 4*6))
	decoder.Decode(laws)
	var lengths []int
	for _, r := range decoder.Runs(nil) {
		lengths = append(lengths, r.End-r.Start)
	}
	if diff := cmp.Diff([]int{2, 3, 1}, lengths); diff != "" {
		t.Errorf("runs of the path (-want +got):\n%s", diff)
	}
}

// Where the likelihoods leave no doubt the path follows them, and the states
// at both ends are cut without cost.
func TestDecodeFollowsLikelihoods(t *testing.T) {
	want := []Run{{pcg.Systole, 0, 3}, {pcg.S2, 3, 8}, {pcg.Diastole, 8, 28}, {pcg.S1, 28, 34}, {pcg.Systole, 34, 44}, {pcg.S2, 44, 45}}
	laws := new(Laws)
	for j, d := range []int{4, 6, 3, 15} {
		w := make([]float64, 10)
		for k := range w {
			w[k] = 1
		}
		laws[j].Set(d, w)
	}
	ll := make([]float64, 4*45)
	for _, r := range want {
		for t := r.Start; t < r.End; t++ {
			for j := range 4 {
				ll[4*t+j] = -20
			}
			ll[4*t+int(r.State-pcg.S1)] = 0
		}
	}
	d := new(Decoder)
	d.Load(ll)
	d.Decode(laws)
	got := d.Runs(nil)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("path (-want +got):\n%s", diff)
	}
	if e := d.Emission(got, false); e != 0 {
		t.Errorf("log-likelihood along the path %g, want 0", e)
	}
	if e := d.Emission(got, true); e != -20*45 {
		t.Errorf("log-likelihood along the exchanged path %g, want %d", e, -20*45)
	}
}

func TestLaw(t *testing.T) {
	var l Law
	l.Set(2, []float64{0, 1, 2, 0, 1, 0})
	if l.Min() != 3 || l.Max() != 6 {
		t.Fatalf("support %d to %d, want 3 to 6", l.Min(), l.Max())
	}
	if want := 3*0.25 + 4*0.5 + 6*0.25; l.Mean() != want {
		t.Errorf("mean %g, want %g", l.Mean(), want)
	}
	for d, want := range map[int]float64{2: 0, 3: 0.25, 4: 0.5, 5: 0, 6: 0.25, 7: 0} {
		if got := math.Exp(l.LogP(d)); math.Abs(got-want) > 1e-15 {
			t.Errorf("P(D = %d) = %g, want %g", d, got, want)
		}
	}
	for d, want := range map[int]float64{1: 1, 3: 1, 4: 0.75, 5: 0.25, 6: 0.25, 7: 0} {
		if got := math.Exp(l.LogTail(d)); math.Abs(got-want) > 1e-15 {
			t.Errorf("P(D ≥ %d) = %g, want %g", d, got, want)
		}
	}
	// Reuse for a shorter law must not leave anything behind.
	l.Set(1, []float64{1})
	if l.Max() != 1 || l.LogTail(2) != math.Inf(-1) || l.Mean() != 1 {
		t.Errorf("after reuse: %+v", l)
	}
}

func TestDecodeDoesNotAllocate(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	d, laws, ll := largeCase(rng)
	runs := make([]Run, 0, 2*len(ll))
	d.Load(ll)
	d.Decode(laws)
	d.Likelihood(laws)
	if n := testing.AllocsPerRun(5, func() {
		d.Load(ll)
		d.Decode(laws)
		d.Likelihood(laws)
		runs = d.Runs(runs[:0])
	}); n != 0 {
		t.Errorf("%g allocations a call, want none", n)
	}
}

// largeCase is 20 s at 50 Hz with laws as at 75 beats a minute.
func largeCase(rng *rand.Rand) (*Decoder, *Laws, []float64) {
	laws := new(Laws)
	for j, span := range [][2]int{{3, 10}, {5, 20}, {2, 9}, {8, 45}} {
		w := make([]float64, span[1]-span[0]+1)
		for k := range w {
			w[k] = 1 + rng.Float64()
		}
		laws[j].Set(span[0], w)
	}
	ll := make([]float64, 4*1000)
	for i := range ll {
		ll[i] = rng.NormFloat64()
	}
	return new(Decoder), laws, ll
}

func BenchmarkDecode(b *testing.B) {
	d, laws, ll := largeCase(rand.New(rand.NewPCG(5, 6)))
	d.Load(ll)
	d.Decode(laws)
	b.ReportAllocs()
	for b.Loop() {
		d.Decode(laws)
	}
}

func BenchmarkLikelihood(b *testing.B) {
	d, laws, ll := largeCase(rand.New(rand.NewPCG(5, 6)))
	d.Load(ll)
	d.Likelihood(laws)
	b.ReportAllocs()
	for b.Loop() {
		d.Likelihood(laws)
	}
}

func ExampleDecoder() {
	laws := new(Laws)
	for j, d := range []int{2, 4, 2, 5} {
		laws[j].Set(d, []float64{1, 2, 1}) // d, d + 1 or d + 2 frames
	}
	// Frames that are loud in S1 and S2: log-likelihoods of S1, systole, S2, diastole.
	loud, quiet := []float64{0, -3, 0, -3}, []float64{-3, 0, -3, 0}
	var frames []float64
	for _, c := range "..###....##......##.." {
		if c == '#' {
			frames = append(frames, loud...)
		} else {
			frames = append(frames, quiet...)
		}
	}
	d := new(Decoder)
	d.Load(frames)
	d.Decode(laws)
	for _, r := range d.Runs(nil) {
		fmt.Printf("%v %d–%d\n", r.State, r.Start, r.End)
	}
	// Output:
	// diastole 0–2
	// S1 2–5
	// systole 5–9
	// S2 9–11
	// diastole 11–17
	// S1 17–19
	// systole 19–21
}
