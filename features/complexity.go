package features

import (
	"math"
	"math/bits"
	"slices"

	"phonocycle/pipeline/pcg"
)

const (
	entropyLeast = 50  // samples, fewest
	entropyMost  = 512 // samples, most: the cost grows with their square
	richman2000  = "Richman and Moorman 2000, Am J Physiol 278:H2039, doi 10.1152/ajpheart.2000.278.6.H2039"
)

// complexityFeatures are the sample entropies of the states.
func complexityFeatures() []Feature {
	var rows []Feature
	for i, s := range pcg.Cycle {
		rows = append(rows, Feature{
			Name: prefix(s) + "sample_entropy", Unit: "1", Range: "≥ 0", Source: richman2000,
			Definition: "ln(N₂/N₃) of y in " + s.String() + ", its first 512 ms at most, with m = 2 and r = 0.2 · SD: N₂ and N₃ count the pairs among the n − 2 places of which the first 2 and the first 3 samples differ by at most r",
			Null:       "the state is shorter than 50 ms or silent (RMS of y below 1e-9 FS), or N₃ is 0",
			Statistics: Four,
			ofCycle: func(c *cycle) float64 {
				y := c.state[i].y
				if c.state[i].silent || len(y) < entropyLeast {
					return math.NaN()
				}
				return c.entropy.of(y[:min(len(y), entropyMost)])
			},
		})
	}
	return rows
}

// sampleEntropy holds the buffers of the computation.
type sampleEntropy struct {
	order  []int32  // places in the order of their samples
	starts []int32  // of the buckets of the sort
	near   []uint64 // a row of bits a sample: which samples differ from it by at most r
	within []uint64 // the row of the sample under way
}

// of returns the sample entropy ln(N₂/N₃) of x with m = 2 and r = 0.2 times the
// standard deviation (n in the denominator): of all pairs of the n − 2 places
// where a template of three samples can begin, N₂ have first and second samples
// that differ by at most r, and N₃ of these the third as well. It is NaN if
// there are none.
//
// Which samples are near which is kept in bits: places i and j match over two
// samples where bit j of row i and bit j + 1 of row i + 1 are set, so that 64
// pairs are counted at once.
func (e *sampleEntropy) of(x []float64) float64 {
	if len(x) < 3 {
		return math.NaN()
	}
	m := momentsOf(x)
	sd := math.Sqrt(m.second)
	e.sort(x, m.mean, sd)
	e.mark(x, 0.2*sd)
	pairs, longer := e.count(len(x))
	if longer == 0 {
		return math.NaN()
	}
	return math.Log(float64(pairs) / float64(longer))
}

// sort fills order: into buckets of equal width within four standard deviations,
// two a sample, and then by insertion.
func (e *sampleEntropy) sort(x []float64, mean, sd float64) {
	n := len(x)
	last := 2*n - 1
	perUnit := 0.0
	if sd > 0 {
		perUnit = float64(n) / (4 * sd)
	}
	bucket := func(v float64) int {
		at := float64(n) + (v-mean)*perUnit
		return int(min(max(at, 0), float64(last)))
	}
	e.starts = zeroed(e.starts, last+2)
	for _, v := range x {
		e.starts[bucket(v)+1]++
	}
	for b := 1; b < len(e.starts); b++ {
		e.starts[b] += e.starts[b-1]
	}
	e.order = slices.Grow(e.order[:0], n)[:n]
	for i, v := range x {
		b := bucket(v)
		e.order[e.starts[b]] = int32(i)
		e.starts[b]++
	}
	for k := 1; k < n; k++ {
		i := e.order[k]
		at := k
		for ; at > 0 && x[e.order[at-1]] > x[i]; at-- {
			e.order[at] = e.order[at-1]
		}
		e.order[at] = i
	}
}

// words returns the length of a row for n samples, with one word of zeros behind.
func words(n int) int { return (n+63)/64 + 1 }

// mark fills near. Along the order, those within r of a sample are a stretch whose
// ends only move forwards.
func (e *sampleEntropy) mark(x []float64, r float64) {
	n, w := len(x), words(len(x))
	e.near = slices.Grow(e.near[:0], n*w)[:n*w]
	e.within = zeroed(e.within, w)
	from, to := 0, 0
	for _, i := range e.order {
		for to < n && !(x[e.order[to]]-x[i] > r) {
			j := e.order[to]
			e.within[j/64] |= 1 << (j & 63)
			to++
		}
		for x[i]-x[e.order[from]] > r {
			j := e.order[from]
			e.within[j/64] &^= 1 << (j & 63)
			from++
		}
		copy(e.near[int(i)*w:(int(i)+1)*w], e.within)
	}
}

// count returns N₂ and N₃.
func (e *sampleEntropy) count(n int) (pairs, longer int) {
	w := words(n)
	final := (n - 3) / 64 // word of the last place
	places := ^uint64(0) >> (63 - (n-3)&63)
	for i := range n - 2 {
		first, second, third := e.near[i*w:(i+1)*w], e.near[(i+1)*w:(i+2)*w], e.near[(i+2)*w:(i+3)*w]
		after := ^uint64(0) << ((i + 1) & 63) // each pair once
		for k := (i + 1) / 64; k <= final; k++ {
			two := first[k] & (second[k]>>1 | second[k+1]<<63) & after
			if k == final {
				two &= places
			}
			three := two & (third[k]>>2 | third[k+1]<<62)
			pairs += bits.OnesCount64(two)
			longer += bits.OnesCount64(three)
			after = ^uint64(0)
		}
	}
	return pairs, longer
}

// zeroed returns n zeros in the memory of s if it suffices.
func zeroed[T any](s []T, n int) []T {
	s = slices.Grow(s[:0], n)[:n]
	clear(s)
	return s
}
