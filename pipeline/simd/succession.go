package simd

import "math"

// Succession is the best path through four states that follow each other in a ring.
// The states lie side by side. Scores are logarithms; −Inf is impossible.
type Succession struct {
	Sojourn  []float64 // score of a sojourn of Shortest frames, and of each longer one
	Shortest int       // at least 1
	First    []float64 // score of a first run that ends before frame 0, 1, …; impossible from where it ends
	Level    []float64 // of each frame: sum of the scores of all frames before
	Entered  []float64 // best score of a path that enters a state, less its level: as many frames before frame 0 as the longest sojourn has, then the frames
	Length   []int32   // of the best run that ends before a frame
}

// Succeed finds, of frames 1 up to before the given number and of every state, the
// best score of a run that ends there,
//
//	best = max(First[t], max_d Sojourn[d − Shortest] + Entered[t − d]),
//
// of equals that with the shortest d and First last, and its length. It enters the
// next state with
//
//	Entered[t] = best + Level[t] of the state − Level[t] of the next.
//
// It panics unless the sequences are long enough.
func Succeed(s *Succession, frames int) {
	if n := len(s.Sojourn); s.Shortest < 1 || n == 0 || n%Width != 0 || len(s.First)%Width != 0 ||
		len(s.Level) < Width*frames || len(s.Length) < Width*frames || len(s.Entered) < n+Width*(s.Shortest-1+frames) {
		panic("simd: a succession reaches beyond its sequences")
	}
	if frames > 1 {
		succeed(s, frames)
	}
}

func succeedPortable(s *Succession, frames int) {
	now := len(s.Sojourn) + Width*(s.Shortest-1) // of frame 0 in Entered
	for t := 1; t < frames; t++ {
		now += Width
		for j := range Width {
			best, length := math.Inf(-1), 0
			at := now - Width*s.Shortest + j
			for k := j; k < len(s.Sojourn); k += Width {
				if v := s.Entered[at] + s.Sojourn[k]; v > best {
					best, length = v, s.Shortest+k/Width
				}
				at -= Width
			}
			if Width*t < len(s.First) && s.First[Width*t+j] > best {
				best, length = s.First[Width*t+j], t
			}
			next := (j + 1) % Width
			s.Entered[now+next] = best + s.Level[Width*t+j] - s.Level[Width*t+next]
			s.Length[Width*t+j] = int32(length)
		}
	}
}
