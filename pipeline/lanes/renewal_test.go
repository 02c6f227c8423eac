package lanes

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
	const frames = 30
	lengths := [4]int{3, 1, 6, 8}
	for _, weighed := range []bool{true, false} {
		ring, entered := exampleRing(rand.New(rand.NewPCG(1, 2)), lengths, frames, weighed)
		_, before := exampleRing(rand.New(rand.NewPCG(1, 2)), lengths, frames, weighed)
		sums := Renew(&ring, frames)
		for l := range Width {
			want := 0.0
			for at := range frames {
				for j, s := range ring {
					next := (j + 1) % 4
					left := 0.0
					for k := range lengths[j] {
						left += s.Sojourn[Width*k+l] * before[j][Width*(at+k)+l]
					}
					left *= s.Gain[at]
					before[next][Width*(lengths[next]+at)+l] = left * s.Share[at]
					if weighed {
						want += left * s.Weight[Width*at]
						if got := s.Trail[Width*(frames-at)+l]; math.Abs(got-left) > 1e-13*left {
							t.Errorf("hypothesis %d: %v in the trail of state %d, frame %d, want %v", l, got, j, at, left)
						}
					}
				}
			}
			if math.Abs(sums[l]-want) > 1e-13*want {
				t.Errorf("weighed %v: hypothesis %d: sum %v, want %v", weighed, l, sums[l], want)
			}
		}
		for j := range before {
			for i, want := range before[j] {
				if got := entered[j][i]; math.Abs(got-want) > 1e-13*want {
					t.Fatalf("weighed %v: what entered state %d, value %d: %v, want %v", weighed, j, i, got, want)
				}
			}
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
