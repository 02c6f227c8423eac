package segment

import "fmt"

// Rates is a range of heart rates in beats a minute. Options embed it, which the
// YAML package allows for exported types alone.
type Rates struct {
	Slowest float64 `yaml:"min-rate" json:"min_rate"`
	Fastest float64 `yaml:"max-rate" json:"max_rate"`
}

// defaultRates reaches from a slow adult to a fast infant. Search ranges in
// print often end at 120 beats a minute, below the median rate of the newborn
// (127, Fleming et al. 2011, Lancet 377:1011, doi
// 10.1016/S0140-6736(10)62226-X).
func defaultRates() Rates { return Rates{Slowest: 30, Fastest: 220} }

func (r Rates) check() error {
	if !(r.Slowest >= 10 && r.Slowest < r.Fastest && r.Fastest <= 400) {
		return fmt.Errorf("heart rates: min-rate %g, max-rate %g: want 10 ≤ min-rate < max-rate ≤ 400 per minute", r.Slowest, r.Fastest)
	}
	return nil
}

// shortestCycle and longestCycle return the limits of the cycle length in
// seconds.
func (r Rates) shortestCycle() float64 { return 60 / r.Fastest }
func (r Rates) longestCycle() float64  { return 60 / r.Slowest }

// rhythm is a supposed rhythm of a recording, in seconds: the time from one S1 to
// the next, and that from the onset of S1 to the onset of S2.
type rhythm struct{ cycle, systole float64 }
