package hsmm

import (
	"math"
	"math/rand/v2"
	"testing"
)

// exampleStates returns states whose shortest sojourn is one frame, with what has
// entered each before the first.
func exampleStates(r *rand.Rand, lengths [4]int, frames int) (states [4]forwardState, entered [4][]float64) {
	positive := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.Float64()
		}
		return x
	}
	for j, n := range lengths {
		entered[j] = positive(batchSize * (n + frames))
	}
	for j, n := range lengths {
		next := (j + 1) % 4
		states[j] = forwardState{
			sojourn: positive(batchSize * n), entered: entered[j], left: entered[next][batchSize*lengths[next]:],
			gain: positive(frames), share: positive(frames),
		}
	}
	return states, entered
}

// A forward step is the loop of its comment.
func TestForwardStepIsItsLoop(t *testing.T) {
	lengths := [4]int{3, 1, 6, 8}
	for _, frames := range []int{1, 2, 29, 30} {
		states, entered := exampleStates(rand.New(rand.NewPCG(1, 2)), lengths, frames)
		same, want := exampleStates(rand.New(rand.NewPCG(1, 2)), lengths, frames)
		forwardStep(&states, frames)
		for t := range frames {
			for j := range same {
				s := &same[j]
				for l := range batchSize {
					sum := 0.0
					for k := 0; batchSize*k < len(s.sojourn); k++ {
						sum += s.sojourn[batchSize*k+l] * s.entered[batchSize*(t+k)+l]
					}
					s.left[batchSize*t+l] = sum * s.gain[t] * s.share[t]
				}
			}
		}
		for j := range want {
			for i, v := range want[j] {
				if math.Abs(entered[j][i]-v) > 1e-13*v {
					t.Fatalf("%d frames: value %d that entered state %d is %v, want %v", frames, i, j, entered[j][i], v)
				}
			}
		}
	}
}

// exampleTables have scores of whole numbers, so that many are equal, and some
// impossible.
func exampleTables(r *rand.Rand, shortest, sojourns, frames int) *viterbiTables {
	whole := func(n int) []float64 {
		x := make([]float64, 4*n)
		for i := range x {
			x[i] = float64(r.IntN(4))
			if r.IntN(8) == 0 {
				x[i] = math.Inf(-1)
			}
		}
		return x
	}
	v := &viterbiTables{
		sojourn: whole(sojourns), shortest: shortest, first: whole(7), level: make([]float64, 4*frames),
		entered: make([]float64, 4*(shortest+sojourns-1+frames)),
	}
	for i := range v.level {
		v.level[i] = float64(r.IntN(100))
	}
	for i := range 4 * (shortest + sojourns) {
		v.entered[i] = math.Inf(-1)
	}
	return v
}

// A Viterbi step is the loop of its comment.
func TestViterbiStepIsItsLoop(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const frames = 30
	for sojourns := 1; sojourns < 8; sojourns++ {
		for shortest := 1; shortest < 4; shortest++ {
			v := exampleTables(r, shortest, sojourns, frames)
			viterbiStep(v, frames)
			longest := shortest + sojourns - 1
			for at := 1; at < frames; at++ {
				for j := range 4 {
					best, length := math.Inf(-1), 0
					for d := shortest; d <= longest; d++ {
						if score := v.sojourn[4*(d-shortest)+j] + v.entered[4*(longest+at-d)+j]; score > best {
							best, length = score, d
						}
					}
					if at < 7 && v.first[4*at+j] > best {
						best, length = v.first[4*at+j], at
					}
					next := (j + 1) % 4
					want := best + v.level[4*at+j] - v.level[4*at+next]
					_, after := v.run(j, at)
					if got := v.entered[4*(longest+at)+next]; got != want || after != length {
						t.Fatalf("%d sojourns from %d: state %d, frame %d: %v after %d frames, want %v after %d",
							sojourns, shortest, j, at, got, after, want, length)
					}
				}
			}
		}
	}
}

func TestStepsRefuseShortSlices(t *testing.T) {
	const frames = 5
	for what, cut := range map[string]func(*forwardState, *viterbiTables){
		"sojourn of forward step": func(s *forwardState, _ *viterbiTables) { s.sojourn = s.sojourn[:5] },
		"entered of forward step": func(s *forwardState, _ *viterbiTables) { s.entered = s.entered[:4*6] },
		"gain":                    func(s *forwardState, _ *viterbiTables) { s.gain = s.gain[:4] },
		"left":                    func(s *forwardState, _ *viterbiTables) { s.left = s.left[:19] },
		"share":                   func(s *forwardState, _ *viterbiTables) { s.share = s.share[:4] },
		"sojourn of Viterbi step": func(_ *forwardState, v *viterbiTables) { v.sojourn = v.sojourn[:3] },
		"shortest":                func(_ *forwardState, v *viterbiTables) { v.shortest = 0 },
		"first":                   func(_ *forwardState, v *viterbiTables) { v.first = v.first[:3] },
		"level":                   func(_ *forwardState, v *viterbiTables) { v.level = v.level[:19] },
		"entered of Viterbi step": func(_ *forwardState, v *viterbiTables) { v.entered = v.entered[1:] },
	} {
		states, _ := exampleStates(rand.New(rand.NewPCG(3, 4)), [4]int{3, 3, 3, 3}, frames)
		tables := exampleTables(rand.New(rand.NewPCG(3, 4)), 2, 3, frames)
		cut(&states[2], tables)
		panicked := func() (yes bool) {
			defer func() { yes = recover() != nil }()
			forwardStep(&states, frames)
			viterbiStep(tables, frames)
			return false
		}()
		if !panicked {
			t.Errorf("%s: did not panic", what)
		}
	}
}
