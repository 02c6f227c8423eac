package segment

import "phonocycle/pipeline/segment/option"

// Rates is a range of heart rates in beats a minute. Options embed it, which the
// YAML package allows for exported types alone.
type Rates struct {
	Slowest float64 `yaml:"min-rate"`
	Fastest float64 `yaml:"max-rate"`
}

// defaultRates reaches from a slow adult to a fast infant. Search ranges in
// print often end at 120 beats a minute, below the median rate of the newborn
// (127, Fleming et al. 2011, Lancet 377:1011, doi
// 10.1016/S0140-6736(10)62226-X).
func defaultRates() Rates { return Rates{Slowest: 30, Fastest: 220} }

// options describes the rates; slowest and fastest are those of the paper of a
// method, nil if it has none.
func (r *Rates) options(slowest, fastest any, source option.Source) []option.Option {
	return []option.Option{
		{
			Key: "min-rate", Value: &r.Slowest, About: "Lowest heart rate of the search", Unit: "per minute",
			Low: 10, High: option.Below(r.Fastest), Limit: "10 to below max-rate", Paper: slowest, Source: source,
			Default: "The rate of a slow adult",
		},
		{
			Key: "max-rate", Value: &r.Fastest, About: "Highest heart rate of the search", Unit: "per minute",
			Low: 10, High: 400, Paper: fastest, Source: source,
			Default: "The rate of a fast infant: the median of newborns, 127, is beyond 120 (Fleming et al. 2011, Lancet 377:1011, read)",
		},
	}
}

// shortestCycle and longestCycle return the limits of the cycle length in
// seconds.
func (r Rates) shortestCycle() float64 { return 60 / r.Fastest }
func (r Rates) longestCycle() float64  { return 60 / r.Slowest }

// rhythm is a supposed rhythm of a recording, in seconds: the time from one S1 to
// the next, and that from the onset of S1 to the onset of S2.
type rhythm struct{ cycle, systole float64 }
