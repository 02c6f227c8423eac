package eval

import "math"

// Agreement compares a quantity measured from the reference and from the
// prediction in the same recordings: the mean difference, predicted minus
// reference, and the limits between which 95 % of differences lie if they are
// normal,
//
//	d̄ ± 1.96 s
//
// with s the standard deviation of the differences (Bland and Altman 1986,
// doi:10.1016/S0140-6736(86)90837-8). The paper's intervals around bias and
// limits take measurements as independent. Here they come from the bootstrap
// over people, since recordings of one person are not.
type Agreement struct {
	Quantity   string `json:"quantity"`
	Unit       string `json:"unit"`
	Recordings int    `json:"recordings"` // with both measurements
	People     int    `json:"people"`
	Bias       Ratio  `json:"bias"`
	SD         Ratio  `json:"sd"`
	Lower      Ratio  `json:"lower_limit"`
	Upper      Ratio  `json:"upper_limit"`

	BiasInterval  Intervals `json:"bias_interval"`
	LowerInterval Intervals `json:"lower_limit_interval"`
	UpperInterval Intervals `json:"upper_limit_interval"`
}

// limitsFactor is the normal quantile that leaves 2.5 % on each side, as the
// paper rounds it.
const limitsFactor = 1.96

// agreementFigures computes mean, SD and limits from the number of differences,
// their sum and the sum of their squares.
func agreementFigures(f, totals []float64) {
	n, sum, squares := totals[0], totals[1], totals[2]
	f[0], f[1], f[2], f[3] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	if n > 0 {
		f[0] = sum / n
	}
	if n > 1 {
		f[1] = math.Sqrt(max((squares-sum*sum/n)/(n-1), 0))
		f[2], f[3] = f[0]-limitsFactor*f[1], f[0]+limitsFactor*f[1]
	}
}

// agreement compares the differences found in recordings; person[i] is the
// cluster of difference[i], numbered from 0 without gaps.
func (o *Options) agreement(quantity, unit string, person []int32, difference []float64) Agreement {
	const columns = 3
	c := &clusters{columns: columns}
	for i, d := range difference {
		c.grow(int(person[i]) + 1)
		addTo(c.row(int(person[i])), []float64{1, d, d * d})
	}
	var figures [4]float64
	agreementFigures(figures[:], c.total())
	a := Agreement{
		Quantity: quantity, Unit: unit, Recordings: len(difference), People: c.people(),
		Bias: Ratio(figures[0]), SD: Ratio(figures[1]), Lower: Ratio(figures[2]), Upper: Ratio(figures[3]),
	}
	b := o.bootstrap(c, len(figures), agreementFigures)
	a.BiasInterval, a.LowerInterval, a.UpperInterval = b[0], b[2], b[3]
	return a
}
