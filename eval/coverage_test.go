package eval

import (
	"math/rand/v2"
	"testing"
)

// A made-up trial: people differ in how well a method does on them, and in how
// many beats they give. The truth is known: recall is independent of the number
// of beats, so the pooled recall tends to its mean.
//
// trial draws counts for each of a number of people.
func trial(random *rand.Rand, people int) *clusters {
	c := &clusters{columns: 4} // TP, FN, recall of the person and 1 where it exists
	for range people {
		// Skewed, as scores are: of seven people one is hard.
		recall := 0.965 + 0.035*(2*random.Float64()-1)
		if random.Float64() < 1./7 {
			recall = 0.72 + 0.09*(2*random.Float64()-1)
		}
		beats := 20 + random.IntN(80)
		tp := 0
		for range beats {
			if random.Float64() < recall {
				tp++
			}
		}
		c.sums = append(c.sums, float64(tp), float64(beats-tp), float64(tp)/float64(beats), 1)
	}
	return c
}

func trialFigures(f, totals []float64) {
	f[0] = float64(Recall(int(totals[0]), int(totals[1])))
	f[1] = float64(F1(int(totals[0]), 0, int(totals[1])))
	f[2] = totals[2] / totals[3]
}

// 95 % intervals over 60 people should hold the truth in 93 to 97 % of trials.
// Over 6000 trials of which the first are repeated here, BCa held it in 94.3 %
// (pooled recall, pooled F1) and 94.8 % (mean recall over people), percentile in
// 93.1 % and 93.5 %, and the interval that takes beats as independent in 47.9 %.
// BCa comes nearer, which is why it is the one that is quoted. The test allows
// percentile the noise of its fewer trials.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("simulation of some seconds")
	}
	const trials, people = 500, 60
	mean := 0.965*6/7 + 0.72/7
	truth := []float64{mean, 2 * mean / (1 + mean), mean}
	var percentile, bca [3]int
	wilson := 0
	for i := range uint64(trials) {
		c := trial(rand.New(rand.NewPCG(2024, mix(i))), people)
		o := Options{Resamples: MinResamples, Seed: i}
		for k, b := range o.bootstrap(c, 3, trialFigures) {
			percentile[k] += b.Percentile.holds(truth[k])
			bca[k] += b.BCa.holds(truth[k])
		}
		total := c.total()
		low, high := Wilson(int(total[0]), int(total[0]+total[1]), Confidence)
		wilson += Bounds{low, high}.holds(truth[0])
	}
	for k, name := range []string{"pooled recall", "pooled F1", "mean recall over people"} {
		t.Logf("%s: of %d intervals %d (BCa) and %d (percentile) hold the truth", name, trials, bca[k], percentile[k])
		if share := float64(bca[k]) / trials; share < 0.93 || share > 0.97 {
			t.Errorf("%s: BCa holds the truth in %.3f of trials, want 0.93 to 0.97", name, share)
		}
		if share := float64(percentile[k]) / trials; share < 0.91 || share > 0.97 {
			t.Errorf("%s: percentile holds the truth in %.3f of trials, want 0.91 to 0.97", name, share)
		}
	}
	if share := float64(wilson) / trials; share > 0.6 {
		t.Errorf("the interval that ignores clusters holds the truth in %.3f of trials: the trial has no clusters", share)
	}
}

// holds returns 1 if truth lies within b and else 0.
func (b Bounds) holds(truth float64) int {
	if float64(b[0]) <= truth && truth <= float64(b[1]) {
		return 1
	}
	return 0
}

func TestBootstrapIsTheSameForAnyNumberOfProcessors(t *testing.T) {
	c := trial(rand.New(rand.NewPCG(1, 1)), 60)
	o := Options{Resamples: 500, Seed: 9}
	want := o.resample(c, 3, trialFigures)
	for _, n := range []int{1, 3} {
		got := o.resampleOn(n, c, 3, trialFigures)
		for k := range want {
			for b := range want[k] {
				if got[k][b] != want[k][b] {
					t.Fatalf("%d processors: resample %d of figure %d is %v, want %v", n, b, k, got[k][b], want[k][b])
				}
			}
		}
	}
}

func TestNoIntervalFromOnePerson(t *testing.T) {
	o := Options{Resamples: 100}
	c := &clusters{columns: 4, sums: []float64{9, 1, 0.9, 1}}
	for _, b := range o.bootstrap(c, 3, trialFigures) {
		if !b.Percentile[0].Null() || !b.BCa[0].Null() {
			t.Errorf("interval %v from one person", b)
		}
	}
	// Where everybody is perfect nothing varies: BCa is defined and has no width.
	c.sums = []float64{10, 0, 1, 1, 20, 0, 1, 1}
	for _, b := range o.bootstrap(c, 3, trialFigures) {
		if low, high := b.Best(); low != 1 || high != 1 {
			t.Errorf("interval %v of a perfect score", b)
		}
	}
}
