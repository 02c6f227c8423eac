package eval

import (
	"cmp"
	"math"
	"slices"
)

// SignedRank is the outcome of Wilcoxon's signed-rank test of paired
// differences, two-sided.
type SignedRank struct {
	N     int   `json:"n"`     // differences that are not zero
	Zeros int   `json:"zeros"` // left out
	W     Ratio `json:"w"`     // sum of the ranks of positive differences
	P     Ratio `json:"p"`     // null for N = 0
	Exact bool  `json:"exact"` // from the permutation distribution, not the normal
}

// exactUpTo is the number of differences up to which the distribution of the
// rank sum is counted out.
const exactUpTo = 50

// sameDifference is how far apart two magnitudes may lie and still tie. Ratios
// that are equal by arithmetic differ by rounding in their differences.
const sameDifference = 1e-12

// wilcoxon tests whether paired differences are centred on zero
// (Wilcoxon 1945, doi:10.2307/3001968). Zeros are left out and ties share the
// mean of their ranks. With up to 50 differences p is exact, given the ranks:
// the share of all assignments of signs whose rank sum is at least as far out,
// doubled. With more, the rank sum is taken as normal with mean Σr/2 and
// variance Σr²/4, r the ranks, which accounts for ties.
func wilcoxon(differences []float64) SignedRank {
	var d []float64
	for _, v := range differences {
		if math.Abs(v) > sameDifference {
			d = append(d, v)
		}
	}
	t := SignedRank{N: len(d), Zeros: len(differences) - len(d), Exact: len(d) <= exactUpTo}
	slices.SortFunc(d, func(a, b float64) int { return cmp.Compare(math.Abs(a), math.Abs(b)) })
	ranks := doubledRanks(d)
	w := 0
	for i, v := range d {
		if v > 0 {
			w += ranks[i]
		}
	}
	t.W = Ratio(float64(w) / 2)
	switch {
	case t.N == 0:
		t.P = null()
	case t.Exact:
		t.P = Ratio(exactP(ranks, w))
	default:
		var mean, variance float64
		for _, r := range ranks {
			mean += float64(r) / 4
			variance += float64(r*r) / 16
		}
		z := math.Abs(float64(t.W)-mean) / math.Sqrt(variance)
		t.P = Ratio(math.Erfc(z / math.Sqrt2))
	}
	return t
}

// doubledRanks returns twice the ranks of differences sorted by magnitude, ties
// sharing the mean: integers.
func doubledRanks(d []float64) []int {
	ranks := make([]int, len(d))
	for i := 0; i < len(d); {
		j := i + 1
		for j < len(d) && math.Abs(d[j])-math.Abs(d[j-1]) <= sameDifference {
			j++
		}
		for k := i; k < j; k++ {
			ranks[k] = i + 1 + j // 2 × mean of i+1 … j
		}
		i = j
	}
	return ranks
}

// exactP returns the two-sided p of the rank sum w. It builds the distribution
// of the sum rank by rank, each counting or not with probability ½.
func exactP(ranks []int, w int) float64 {
	total := 0
	for _, r := range ranks {
		total += r
	}
	p := make([]float64, total+1)
	p[0] = 1
	for _, r := range ranks {
		for s := total; s >= 0; s-- {
			p[s] /= 2
			if s >= r {
				p[s] += p[s-r] / 2
			}
		}
	}
	var low, high float64
	for s, v := range p {
		if s <= w {
			low += v
		}
		if s >= w {
			high += v
		}
	}
	return min(1, 2*min(low, high))
}

// holm adjusts p values for testing several hypotheses: the k-th smallest of m
// is multiplied by m−k+1 and raised to those before it. Rejecting those that
// stay below α wrongly rejects any with probability α at most, whatever their
// dependence (Holm 1979, Scandinavian Journal of Statistics 6:65–70). Null
// values, where there was nothing to test, stay null and are not counted.
func holm(p []Ratio) []Ratio {
	order := make([]int, 0, len(p))
	for i := range p {
		if !p[i].Null() {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	adjusted := slices.Clone(p)
	var before Ratio
	for k, i := range order {
		before = max(before, min(1, p[i]*Ratio(len(order)-k)))
		adjusted[i] = before
	}
	return adjusted
}
