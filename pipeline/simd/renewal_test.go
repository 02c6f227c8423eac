package simd

import (
	"math"
	"math/rand/v2"
	"testing"
)

// exampleRing returns states whose shortest sojourn is one frame, with what has
// entered each before the first.
func exampleRing(r *rand.Rand, lengths [4]int, frames int, weighed bool) (ring [4]Renewing, entered [4][]float64) {
	positive := func(n int) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = r.Float64()
		}
		return x
	}
	for j, n := range lengths {
		entered[j] = positive(Width * (n + frames))
	}
	for j, n := range lengths {
		next := (j + 1) % 4
		ring[j] = Renewing{
			Sojourn: positive(Width * n), Entered: entered[j], Left: entered[next][Width*lengths[next]:],
			Gain: positive(frames), Share: positive(frames),
		}
		if weighed {
			ring[j].Weight = positive(Width * frames)
			ring[j].Trail = make([]float64, Width*(frames+1))
		}
	}
	return ring, entered
}

// A ring is renewed as its four hypotheses would be one by one.
func TestRenewIsTheRecursion(t *testing.T) {
	lengths := [4]int{3, 1, 6, 8}
	for _, frames := range []int{1, 2, 29, 30} {
		for _, weighed := range []bool{true, false} {
			ring, entered := exampleRing(rand.New(rand.NewPCG(1, 2)), lengths, frames, weighed)
			same, want := exampleRing(rand.New(rand.NewPCG(1, 2)), lengths, frames, weighed)
			sums := Renew(&ring, frames)
			for l := range Width {
				sum := renewOne(&same, lengths, frames, l)
				if math.Abs(sums[l]-sum) > 1e-13*sum {
					t.Errorf("%d frames, weighed %v, hypothesis %d: sum %v, want %v", frames, weighed, l, sums[l], sum)
				}
			}
			for j := range ring {
				closeTo(t, "what entered", entered[j], want[j])
				closeTo(t, "the trail", ring[j].Trail, same[j].Trail)
			}
		}
	}
}

// renewOne is Renew by its definition, for one hypothesis.
func renewOne(ring *[4]Renewing, lengths [4]int, frames, l int) (sum float64) {
	for t := range frames {
		for j := range ring {
			s := &ring[j]
			left := 0.0
			for k := range lengths[j] {
				left += s.Sojourn[Width*k+l] * s.Entered[Width*(t+k)+l]
			}
			left *= s.Gain[t]
			s.Left[Width*t+l] = left * s.Share[t]
			if s.Weight != nil {
				sum += left * s.Weight[Width*t]
				s.Trail[Width*(frames-t)+l] = left
			}
		}
	}
	return sum
}

func closeTo(t *testing.T, what string, got, want []float64) {
	t.Helper()
	for i, v := range want {
		if math.Abs(got[i]-v) > 1e-13*v {
			t.Fatalf("%s: value %d is %v, want %v", what, i, got[i], v)
		}
	}
}

func TestRenewRefusesShortSequences(t *testing.T) {
	const frames = 5
	for what, cut := range map[string]func(*Renewing){
		"sojourn": func(s *Renewing) { s.Sojourn = s.Sojourn[:5] },
		"entered": func(s *Renewing) { s.Entered = s.Entered[:4*6] },
		"gain":    func(s *Renewing) { s.Gain = s.Gain[:4] },
		"left":    func(s *Renewing) { s.Left = s.Left[:19] },
		"share":   func(s *Renewing) { s.Share = s.Share[:4] },
		"weight":  func(s *Renewing) { s.Weight = s.Weight[:16] },
		"trail":   func(s *Renewing) { s.Trail = s.Trail[:19] },
	} {
		ring, _ := exampleRing(rand.New(rand.NewPCG(3, 4)), [4]int{3, 3, 3, 3}, frames, true)
		cut(&ring[2])
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: did not panic", what)
				}
			}()
			Renew(&ring, frames)
		}()
	}
}
