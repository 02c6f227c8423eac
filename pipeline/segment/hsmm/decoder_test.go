package hsmm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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

// pathScore is the definition in the comment of the package, written a second
// time, with the unseen ends summed one by one.
func pathScore(path []Run, logLikelihood []float64, sojourns *Sojourns) float64 {
	mu := 0.0
	for j := range sojourns {
		for d := 1; d <= sojourns[j].max(); d++ {
			mu += float64(d) * math.Exp(sojourns[j].logProbability(d))
		}
	}
	p := 1 / mu
	emission := 0.0
	for i, r := range path {
		d := &sojourns[r.State-pcg.S1]
		k := r.End - r.Start
		sum := 0.0
		for before := 0; before <= d.max(); before++ {
			if before > 0 && i > 0 {
				break
			}
			for after := 0; before+k+after <= d.max(); after++ {
				if after > 0 && i < len(path)-1 {
					break
				}
				sum += math.Exp(d.logProbability(before + k + after))
			}
		}
		p *= sum
		for t := r.Start; t < r.End; t++ {
			emission += logLikelihood[4*t+int(r.State-pcg.S1)]
		}
	}
	return math.Log(p) + emission
}

func randomSojourns(rng *rand.Rand, longest int) *Sojourns {
	sojourns := new(Sojourns)
	for j := range sojourns {
		shortest := 1 + rng.IntN(2)
		w := make([]float64, 1+rng.IntN(longest-shortest+1))
		for k := range w {
			w[k] = rng.Float64()
		}
		if len(w) > 2 && rng.IntN(2) == 0 {
			w[1] = 0 // a hole in the distribution
		}
		sojourns[j].set(shortest, w)
	}
	return sojourns
}

func TestDecodeAgainstEnumeration(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	decoder := new(Decoder)
	for trial := range 400 {
		frames := 1 + rng.IntN(10)
		sojourns := randomSojourns(rng, 5)
		ll := make([]float64, 4*frames)
		for i := range ll {
			ll[i] = 3 * rng.NormFloat64()
		}
		total, sum, best := 0.0, 0.0, math.Inf(-1)
		var want []Run
		zero := make([]float64, len(ll))
		everyPath(frames, func(path []Run) {
			total += math.Exp(pathScore(path, zero, sojourns))
			s := pathScore(path, ll, sojourns)
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
		if got := likelihood(decoder, sojourns); !(math.Abs(got-math.Log(sum)) < 1e-9) {
			t.Fatalf("trial %d: log-likelihood %.12g, sum over all paths %.12g", trial, got, math.Log(sum))
		}
		score := decoder.Decode(sojourns)
		if !(math.Abs(score-best) < 1e-9) {
			t.Fatalf("trial %d: score %.12g, best of all paths %.12g", trial, score, best)
		}
		got := decoder.Runs(nil)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("trial %d: best path of %d frames (-enumerated +decoded):\n%s", trial, frames, diff)
		}
	}
}

// Where paths score alike the shorter sojourn wins, from the end of the recording
// backwards. Of six frames without likelihoods, under sojourns of one, two or three
// frames each, the best paths are 1 + 3 + 2 and 2 + 3 + 1.
func TestDecodeTies(t *testing.T) {
	sojourns := new(Sojourns)
	for j := range sojourns {
		sojourns[j].set(1, []float64{1, 1, 1})
	}
	decoder := new(Decoder)
	decoder.Load(make([]float64, 4*6))
	decoder.Decode(sojourns)
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
	sojourns := new(Sojourns)
	for j, d := range []int{4, 6, 3, 15} {
		w := make([]float64, 10)
		for k := range w {
			w[k] = 1
		}
		sojourns[j].set(d, w)
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
	d.Decode(sojourns)
	got := d.Runs(nil)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("path (-want +got):\n%s", diff)
	}
}

func TestDecodeDoesNotAllocate(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	d, sojourns, ll := largeCase(rng)
	runs := make([]Run, 0, 2*len(ll))
	d.Load(ll)
	d.Decode(sojourns)
	likelihood(d, sojourns)
	if n := testing.AllocsPerRun(5, func() {
		d.Load(ll)
		d.Decode(sojourns)
		likelihood(d, sojourns)
		runs = d.Runs(runs[:0])
	}); n != 0 {
		t.Errorf("%g allocations per call, want none", n)
	}
}

func likelihood(d *Decoder, s *Sojourns) float64 {
	one := [1]*Sojourns{s}
	return d.Likelihoods(one[:])[0]
}

// Hypotheses are scored alike alone and in batches, by both scores, even where
// frames fit no state.
func TestHypothesesShareBatches(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	var hypotheses []*Sojourns
	for range 6 {
		hypotheses = append(hypotheses, randomSojourns(rng, 40))
	}
	for _, spread := range []float64{1, 30} {
		ll := make([]float64, 4*700)
		for i := range ll {
			ll[i] = spread * rng.NormFloat64()
		}
		d := new(Decoder)
		d.Load(ll)
		together := slices.Clone(d.Likelihoods(hypotheses))
		best := slices.Clone(d.BestScores(hypotheses))
		for i, h := range hypotheses {
			if alone := likelihood(d, h); !(math.Abs(alone-together[i]) <= 1e-12*math.Abs(alone)) {
				t.Errorf("spread %g, hypothesis %d: log-likelihood %v alone, %v with others", spread, i, alone, together[i])
			}
			if alone := d.Decode(h); alone != best[i] {
				t.Errorf("spread %g, hypothesis %d: best score %v alone, %v with others", spread, i, alone, best[i])
			}
			if !(best[i] <= together[i]) {
				t.Errorf("spread %g, hypothesis %d: best path %v is above the sum over paths %v", spread, i, best[i], together[i])
			}
		}
	}
}

// largeCase is 20 s at 50 Hz with sojourns as at 75 beats a minute.
func largeCase(rng *rand.Rand) (*Decoder, *Sojourns, []float64) {
	sojourns := new(Sojourns)
	for j, span := range [][2]int{{3, 10}, {5, 20}, {2, 9}, {8, 45}} {
		w := make([]float64, span[1]-span[0]+1)
		for k := range w {
			w[k] = 1 + rng.Float64()
		}
		sojourns[j].set(span[0], w)
	}
	ll := make([]float64, 4*1000)
	for i := range ll {
		ll[i] = rng.NormFloat64()
	}
	return new(Decoder), sojourns, ll
}

func BenchmarkDecode(b *testing.B) {
	d, sojourns, ll := largeCase(rand.New(rand.NewPCG(5, 6)))
	d.Load(ll)
	d.Decode(sojourns)
	b.ReportAllocs()
	for b.Loop() {
		d.Decode(sojourns)
	}
}

func BenchmarkLikelihood(b *testing.B) {
	d, sojourns, ll := largeCase(rand.New(rand.NewPCG(5, 6)))
	d.Load(ll)
	likelihood(d, sojourns)
	b.ReportAllocs()
	for b.Loop() {
		likelihood(d, sojourns)
	}
}

func ExampleDecoder() {
	sojourns := new(Sojourns)
	for j, d := range []int{2, 4, 2, 5} {
		sojourns[j].set(d, []float64{1, 2, 1}) // d, d + 1 or d + 2 frames
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
	d.Decode(sojourns)
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
