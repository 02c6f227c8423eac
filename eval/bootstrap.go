package eval

import (
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"

	"phonocycle/pipeline/signal"
)

// Options are the choices of the statistics. Unlike [Rules] they do not change
// a score, only what is said about it. Zero values take the defaults.
type Options struct {
	// Resamples is the number of bootstrap resamples of people, by default
	// 2000. A smaller number is followed, with a warning.
	Resamples int

	// Seed of the resamples.
	Seed uint64

	// Strata names the properties by which scores are also given. Nil stands for
	// all that take at least two and at most 20 values.
	Strata Grouping

	// MinPeople is the number of people below which a stratum is given as counts
	// without ratios, by default 5.
	MinPeople int
}

// minResamples is the least number of resamples for an interval at 95 %: the
// tails of a smaller number are too noisy (Efron and Tibshirani 1993, chapter
// 14.3, give 1000 as the rough minimum, from memory; common practice is 2000).
const minResamples = 2000

// fewResamplesWarning says that n resamples are too few.
func fewResamplesWarning(n int) string {
	return fmt.Sprintf("%d resamples are too few for a stable interval: take %d or more", n, minResamples)
}

// maxResamples is the largest number of resamples: some forty figures of each
// stratum are kept for each of them, 32 MB. It leaves the ends of an interval to
// chance by a hundredth of the spread.
const maxResamples = 100_000

// CheckResamples refuses a number of resamples that the bootstrap cannot take; 0
// stands for the default.
func CheckResamples(n int) error {
	if n < 0 || n > maxResamples {
		return fmt.Errorf("resamples is %d: want 0 to %d", n, maxResamples)
	}
	return nil
}

// defaultMinPeople is the least number of people in a stratum with ratios. It
// follows no source: a resample of fewer people repeats one too often.
const defaultMinPeople = 5

// confidence is that of every interval.
const confidence = 0.95

// withDefaults fills in what is not set.
func (o Options) withDefaults() Options {
	if o.Resamples <= 0 {
		o.Resamples = minResamples
	}
	if o.MinPeople <= 0 {
		o.MinPeople = defaultMinPeople
	}
	return o
}

// Bounds is an interval of confidence as [low, high], null where there is none.
type Bounds [2]Ratio

func noBounds() Bounds { return Bounds{null(), null()} }

// Intervals holds two bootstrap intervals of one figure.
type Intervals struct {
	// Percentile runs between quantiles of the resampled figures.
	Percentile Bounds `json:"percentile"`

	// BCa moves those quantiles for bias and for a spread that changes with the
	// figure. Null where the correction is undefined, as when every resample lies
	// on one side of the figure.
	BCa Bounds `json:"bca"`
}

// Best returns the ends of the BCa interval or, where that is undefined, of the
// percentile interval.
func (i *Intervals) Best() (low, high Ratio) {
	if i.BCa[0].Null() {
		return i.Percentile[0], i.Percentile[1]
	}
	return i.BCa[0], i.BCa[1]
}

// clusters holds sums for each of a number of people, row by row, from which
// figures are computed: a figure of a set of people depends on nothing but the
// column totals over that set.
type clusters struct {
	columns int
	sums    []float64
}

func (c *clusters) people() int { return len(c.sums) / c.columns }

// grow adds people with zero sums until there are n.
func (c *clusters) grow(n int) {
	if more := n*c.columns - len(c.sums); more > 0 {
		c.sums = append(c.sums, make([]float64, more)...)
	}
}

// row returns the sums of person i.
func (c *clusters) row(i int) []float64 { return c.sums[i*c.columns : (i+1)*c.columns] }

// total returns the column totals over all people.
func (c *clusters) total() []float64 {
	total := make([]float64, c.columns)
	for i := range c.people() {
		addTo(total, c.row(i))
	}
	return total
}

// addTo adds x to sum, element by element.
func addTo(sum, x []float64) {
	for i, v := range x {
		sum[i] += v
	}
}

// figures computes figures from column totals, NaN where undefined.
type figures func(figures, totals []float64)

// bootstrap returns the intervals of n figures over people drawn with
// replacement. Each resample has a generator of its own, made from the seed
// and its number, so that the result does not depend on the number of
// processors.
//
// With θ the figure, θ* its resamples and θ(i) the figure without person i,
// the ends of the BCa interval are the quantiles of θ* at
//
//	Φ(z₀ + (z₀+z)/(1−a(z₀+z))),  z = ±Φ⁻¹((1+confidence)/2)
//	z₀ = Φ⁻¹(share of θ* below θ, ties by half)
//	a  = Σ(θ̄−θ(i))³ / 6(Σ(θ̄−θ(i))²)^(3/2),  θ̄ the mean of θ(i)
//
// Efron 1987, doi:10.1080/01621459.1987.10478410; Efron and Tibshirani 1993,
// chapter 14. The percentile interval has z₀ = a = 0.
//
// Resamples of few people vary too little, and both intervals are then too
// narrow. Here z is [widened] for the number of people, which brings them closer
// to what they promise; see TestCoverage for how close.
func (o *Options) bootstrap(c *clusters, n int, f figures) []Intervals {
	result := make([]Intervals, n)
	if c.people() < 2 {
		for k := range result {
			result[k] = Intervals{noBounds(), noBounds()}
		}
		return result
	}
	replicates := o.resample(c, n, f)
	total := c.total()
	estimate := make([]float64, n)
	f(estimate, total)
	a := accelerations(jackknife(c, total, n, f), n)
	z := widened(c.people())
	inParallel(n, func(first, step int) {
		for k := first; k < n; k += step {
			result[k] = intervals(estimate[k], replicates[k], a[k], z)
		}
	})
	return result
}

// inParallel calls do on all processors, each time for every step-th of
// n tasks from the first on.
func inParallel(n int, do func(first, step int)) {
	var workers sync.WaitGroup
	step := min(runtime.GOMAXPROCS(0), n)
	for first := range step {
		workers.Go(func() { do(first, step) })
	}
	workers.Wait()
}

// widened returns the normal quantile by which an interval over n people is
// read off the resamples: in place of Φ⁻¹((1+confidence)/2) = 1.96
//
//	z = t √(n/(n−1))
//
// with t the quantile of Student's distribution of n−1 degrees of freedom. The
// root makes up for resamples whose variance is that of n people divided by n and
// not by n−1, Student's quantile for a variance that is itself an estimate: the
// expanded percentile interval of Hesterberg 2015,
// doi:10.1080/00031305.2015.1089789 (from memory). That BCa takes the same z is
// ours.
func widened(n int) float64 {
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile((1 + confidence) / 2)
	return t * math.Sqrt(float64(n)/float64(n-1))
}

// resample returns for each figure its values over the resamples, the same for any
// number of processors.
func (o *Options) resample(c *clusters, n int, f figures) [][]float64 {
	replicates := make([][]float64, n)
	for k := range replicates {
		replicates[k] = make([]float64, o.Resamples)
	}
	inParallel(o.Resamples, func(first, step int) {
		totals, values := make([]float64, c.columns), make([]float64, n)
		for b := first; b < o.Resamples; b += step {
			draw(totals, c, rand.New(rand.NewPCG(o.Seed, mix(uint64(b)))))
			f(values, totals)
			for k, v := range values {
				replicates[k][b] = v
			}
		}
	})
	return replicates
}

// draw fills totals with the column totals over as many people as there are,
// drawn with replacement.
func draw(totals []float64, c *clusters, random *rand.Rand) {
	clear(totals)
	people := c.people()
	for range people {
		addTo(totals, c.row(random.IntN(people)))
	}
}

// mix spreads consecutive numbers over 64 bits, so that generators seeded with
// them start far apart (finalizer of SplitMix64; Steele, Lea, Flood 2014,
// doi:10.1145/2660193.2660195).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// jackknife yields all figures with one person left out after the other. The
// slice is valid until the next.
func jackknife(c *clusters, total []float64, n int, f figures) iter.Seq[[]float64] {
	return func(yield func([]float64) bool) {
		rest, values := make([]float64, c.columns), make([]float64, n)
		for i := range c.people() {
			for j, v := range c.row(i) {
				rest[j] = total[j] - v
			}
			f(values, rest)
			if !yield(values) {
				return
			}
		}
	}
}

// accelerations returns for each figure the a of its BCa interval: a sixth of
// the skewness of the jackknife values, of which undefined ones are left out.
// It is zero where they do not vary. The values are computed three times, which
// takes less time than a few resamples, so that they need not be kept.
func accelerations(left iter.Seq[[]float64], n int) []float64 {
	count, mean, squares, cubes := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	each := func(do func(k int, v float64)) {
		for values := range left {
			for k, v := range values {
				if !math.IsNaN(v) {
					do(k, v)
				}
			}
		}
	}
	each(func(k int, _ float64) { count[k]++ })
	each(func(k int, v float64) { mean[k] += v / count[k] })
	each(func(k int, v float64) {
		d := mean[k] - v
		squares[k] += d * d
		cubes[k] += d * d * d
	})
	a := make([]float64, n)
	for k := range a {
		if squares[k] != 0 {
			a[k] = cubes[k] / (6 * math.Pow(squares[k], 1.5))
		}
	}
	return a
}

// intervals computes both intervals of one figure, reaching z standard normal
// deviations to either side, from the acceleration a. Undefined values among
// the resamples are left out.
func intervals(estimate float64, replicates []float64, a, z float64) Intervals {
	replicates = slices.DeleteFunc(replicates, math.IsNaN)
	if math.IsNaN(estimate) || len(replicates) == 0 {
		return Intervals{noBounds(), noBounds()}
	}
	slices.Sort(replicates)
	result := Intervals{Percentile: boundsAt(replicates, normalCDF(-z), normalCDF(z)), BCa: noBounds()}
	below, _ := slices.BinarySearch(replicates, estimate)
	upTo := below
	for upTo < len(replicates) && replicates[upTo] == estimate {
		upTo++
	}
	share := float64(below+upTo) / float64(2*len(replicates))
	if share == 0 || share == 1 {
		return result
	}
	z0 := normalQuantile(share)
	if a*(z0+z) >= 1 || a*(z0-z) >= 1 {
		return result
	}
	shift := func(z float64) float64 { return normalCDF(z0 + (z0+z)/(1-a*(z0+z))) }
	result.BCa = boundsAt(replicates, shift(-z), shift(z))
	return result
}

// boundsAt returns two quantiles of sorted values.
func boundsAt(sorted []float64, low, high float64) Bounds {
	return Bounds{Ratio(signal.Quantile(sorted, low)), Ratio(signal.Quantile(sorted, high))}
}
