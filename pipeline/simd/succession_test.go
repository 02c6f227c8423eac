package simd

import (
	"math"
	"math/rand/v2"
	"testing"
)

// exampleSuccession has scores of whole numbers, so that many are equal, and some
// impossible.
func exampleSuccession(r *rand.Rand, shortest, sojourns, frames int) Succession {
	whole := func(n int) []float64 {
		x := make([]float64, Width*n)
		for i := range x {
			x[i] = float64(r.IntN(4))
			if r.IntN(8) == 0 {
				x[i] = math.Inf(-1)
			}
		}
		return x
	}
	s := Succession{
		Sojourn: whole(sojourns), Shortest: shortest, First: whole(7), Level: make([]float64, Width*frames),
		Entered: make([]float64, Width*(shortest+sojourns-1+frames)), Length: make([]int32, Width*frames),
	}
	for i := range s.Level {
		s.Level[i] = float64(r.IntN(100))
	}
	for i := range Width * (shortest + sojourns) {
		s.Entered[i] = math.Inf(-1)
	}
	return s
}

// What is entered is the best by definition; of equals the shortest run counts, a
// first run only if it is better.
func TestSucceedChoosesTheBestRun(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const frames = 30
	for sojourns := 1; sojourns < 8; sojourns++ {
		for shortest := 1; shortest < 4; shortest++ {
			s := exampleSuccession(r, shortest, sojourns, frames)
			Succeed(&s, frames)
			before := shortest + sojourns - 1
			for at := 1; at < frames; at++ {
				for j := range Width {
					best, length := math.Inf(-1), 0
					for d := shortest; d <= before; d++ {
						if v := s.Sojourn[Width*(d-shortest)+j] + s.Entered[Width*(before+at-d)+j]; v > best {
							best, length = v, d
						}
					}
					if at < 7 && s.First[Width*at+j] > best {
						best, length = s.First[Width*at+j], at
					}
					next := (j + 1) % Width
					want := best + s.Level[Width*at+j] - s.Level[Width*at+next]
					if got := s.Entered[Width*(before+at)+next]; got != want || s.Length[Width*at+j] != int32(length) {
						t.Fatalf("%d sojourns from %d: state %d, frame %d: %v after %d frames, want %v after %d",
							sojourns, shortest, j, at, got, s.Length[Width*at+j], want, length)
					}
				}
			}
		}
	}
}

func TestSucceedRefusesShortSequences(t *testing.T) {
	for what, cut := range map[string]func(*Succession){
		"sojourn":  func(s *Succession) { s.Sojourn = s.Sojourn[:3] },
		"shortest": func(s *Succession) { s.Shortest = 0 },
		"first":    func(s *Succession) { s.First = s.First[:3] },
		"level":    func(s *Succession) { s.Level = s.Level[:35] },
		"entered":  func(s *Succession) { s.Entered = s.Entered[1:] },
		"length":   func(s *Succession) { s.Length = s.Length[:35] },
	} {
		s := exampleSuccession(rand.New(rand.NewPCG(3, 4)), 2, 3, 9)
		cut(&s)
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: did not panic", what)
				}
			}()
			Succeed(&s, 9)
		}()
	}
}
