package eval

import (
	"flag"
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/signal"
)

var coverageTrials = flag.Int("coverage-trials", 200, "number of made-up trials in TestCoverage")

// A population says how a method does on people: how many of the beats of one it
// finds, and what the figures tend to as more people are taken.
type population struct {
	name  string
	draw  func(*rand.Rand) counts // of one person
	truth [3]float64              // pooled recall, pooled F1, mean recall over people
}

// madeUp returns a population of people who differ in the share of beats that is
// found and, independently, in how many they have: 20 to 99. Nothing is found that
// is not there.
func madeUp(name string, recall func(*rand.Rand) float64, mean float64) population {
	draw := func(random *rand.Rand) (n counts) {
		recall, beats := recall(random), 20+random.IntN(80)
		for range beats {
			if random.Float64() < recall {
				n.tp++
			}
		}
		n.fn = beats - n.tp
		return n
	}
	return population{name, draw, [3]float64{mean, 2 * mean / (1 + mean), mean}}
}

// drawnFrom returns a population in which each of the given people is as common as
// any other.
func drawnFrom(name string, people []counts) population {
	var all counts
	var recall float64
	for _, n := range people {
		all.plus(n)
		recall += float64(Recall(n.tp, n.fn)) / float64(len(people))
	}
	return population{name, func(random *rand.Rand) counts { return people[random.IntN(len(people))] },
		[3]float64{float64(Recall(all.tp, all.fn)), float64(all.f1()), recall}}
}

var alike = madeUp("most alike", func(r *rand.Rand) float64 { return 0.85 + 0.14*r.Float64() }, 0.92)

// As scores are: of seven people one is hard.
var oneHard = madeUp("one in seven hard", func(r *rand.Rand) float64 {
	if r.Float64() < 1./7 {
		return 0.72 + 0.09*(2*r.Float64()-1)
	}
	return 0.965 + 0.035*(2*r.Float64()-1)
}, 0.965*6/7+0.72/7)

// As scores of a good method are: most people are all but perfect, one in eight is
// anywhere from bad to good.
var perfectOrBad = madeUp("perfect or bad", func(r *rand.Rand) float64 {
	if r.Float64() < 0.12 {
		return 0.3 + 0.7*r.Float64()
	}
	return 1 - 0.006*r.Float64()
}, 0.88*0.997+0.12*0.65)

// realPopulations returns the people of circor as two methods did on them in a
// cross-validation: testdata/eval/people.csv, made by people.sh beside it.
func realPopulations(t *testing.T) []population {
	t.Helper()
	content, err := os.ReadFile("../testdata/eval/people.csv")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	people := map[string][]counts{}
	for line := range strings.Lines(string(content)) {
		var name string
		var n counts
		if _, err := fmt.Sscanf(strings.ReplaceAll(line, ",", " "), "%s %d %d %d", &name, &n.tp, &n.fp, &n.fn); err != nil {
			continue // the header
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		people[name] = append(people[name], n)
	}
	var list []population
	for _, name := range names {
		list = append(list, drawnFrom("circor, "+name, people[name]))
	}
	return list
}

// The people of circor are 151 under both methods, with the scores of the
// summaries of the cross-validations that they were counted in.
func TestRealPopulations(t *testing.T) {
	list := realPopulations(t)
	if len(list) != 2 || list[0].name != "circor, conv-hsmm" || list[1].name != "circor, duration-hmm" {
		t.Fatalf("populations %+v", list)
	}
	for i, want := range [][3]float64{{0.971723, 0.971117, 0.967929}, {0.939177, 0.939347, 0.911810}} {
		for k, got := range list[i].truth {
			if math.Abs(got-want[k]) > 5e-7 {
				t.Errorf("%s: figure %d is %v, want %v", list[i].name, k, got, want[k])
			}
		}
	}
}

// trial draws people.
func (p *population) trial(random *rand.Rand, people int) *clusters {
	c := &clusters{columns: 5} // TP, FP, FN, recall of the person and 1 where it exists
	for range people {
		n := p.draw(random)
		c.sums = append(c.sums, float64(n.tp), float64(n.fp), float64(n.fn), float64(Recall(n.tp, n.fn)), 1)
	}
	return c
}

func trialFigures(f, totals []float64) {
	tp, fp, fn := int(totals[0]), int(totals[1]), int(totals[2])
	f[0], f[1], f[2] = float64(Recall(tp, fn)), float64(F1(tp, fp, fn)), totals[3]/totals[4]
}

// coverage counts how many intervals of trials hold the truth: of each figure,
// BCa and percentile, and of the pooled recall the one that ignores clusters. It
// also returns the median of the effective number of people with misses.
func (p *population) coverage(trials, people int) (bca, percentile [3]float64, binomial, effective float64) {
	share := 1 / float64(trials)
	var missing []float64
	for i := range uint64(trials) {
		c := p.trial(rand.New(rand.NewPCG(2024, mix(i))), people)
		o := Options{Resamples: minResamples, Seed: i}
		for k, b := range o.bootstrap(c, 3, trialFigures) {
			low, high := b.Best()
			bca[k] += share * Bounds{low, high}.holds(p.truth[k])
			percentile[k] += share * b.Percentile.holds(p.truth[k])
		}
		total := c.total()
		low, high := wilson(int(total[0]), int(total[0]+total[2]), confidence)
		binomial += share * Bounds{low, high}.holds(p.truth[0])
		missing = append(missing, effectivePeople(trialErrors(c)))
	}
	slices.Sort(missing)
	return bca, percentile, binomial, signal.Quantile(missing, 0.5)
}

// trialErrors yields the errors of each person of a trial.
func trialErrors(c *clusters) iter.Seq[float64] {
	return func(yield func(float64) bool) {
		for i := range c.people() {
			if !yield(c.row(i)[1] + c.row(i)[2]) {
				return
			}
		}
	}
}

// 95 % intervals should hold the truth in 93 to 97 % of trials. Share of 4000 trials,
// in %, pooled recall / mean over people, and the median of the effective number of
// people with errors (effectivePeople):
//
//	                   people  BCa          percentile   ignoring clusters  effective
//	most alike             10  94.5 / 95.0  94.0 / 94.5  78.6  6.6
//	                       20  94.8 / 95.2  94.2 / 94.7  78.4  12.7
//	                       30  95.0 / 95.3  94.8 / 95.0  77.9  18.9
//	                       60  95.2 / 95.6  95.2 / 95.4  79.4  37.3
//	                      118  95.5 / 95.5  95.4 / 95.3  78.6  72.9
//	one in seven hard      10  82.5 / 83.7  81.1 / 82.1  46.5  4.2
//	                       20  90.7 / 92.5  88.9 / 91.2  46.5  7.1
//	                       30  93.5 / 95.5  91.3 / 92.6  47.9  10.1
//	                       60  95.1 / 95.5  93.6 / 94.2  46.5  19.1
//	                      118  95.1 / 95.0  93.9 / 94.3  46.5  36.9
//	perfect or bad         10  65.5 / 65.8  63.5 / 64.3  22.6  1.5
//	                       20  83.5 / 84.4  79.3 / 81.4  27.2  2.3
//	                       30  88.9 / 90.4  84.2 / 86.8  27.6  3.0
//	                       60  94.2 / 95.4  90.4 / 92.2  26.5  5.3
//	                      118  94.7 / 95.4  92.8 / 93.0  28.7  10.5
//	circor, conv-hsmm      10  70.3 / 68.7  63.9 / 64.3  20.8  2.2
//	                       20  75.9 / 79.5  70.3 / 75.8  16.7  3.5
//	                       30  79.6 / 85.8  72.0 / 83.9  14.0  4.6
//	                       60  79.5 / 91.5  72.6 / 87.6  9.3   7.4
//	                      118  81.7 / 92.9  76.8 / 91.3  15.3  6.9
//	circor, duration-hmm   10  89.9 / 87.8  88.0 / 82.6  25.6  4.1
//	                       20  89.6 / 88.6  88.1 / 84.9  26.0  7.0
//	                       30  89.6 / 89.1  89.0 / 88.0  24.9  9.3
//	                       60  91.4 / 94.0  90.7 / 92.3  26.4  14.9
//	                      118  93.9 / 95.4  93.7 / 94.5  25.4  27.1
//
// Of the people of circor, a few with many beats have most of the errors of
// conv-hsmm: the effective number is 6.7 of 151, and so no number of people drawn
// from them brings it much above.
// BCa comes nearer, which is why it is the one that is quoted. Where few of the
// people in the data have errors, no interval can know of those who are not in
// them: hence the warning by the effective number of people. Tried in its place,
// for 30 people of whom most are perfect (800 trials): the bootstrap of Student's
// t holds the truth in 92 %, at two and a half times the width; a Bayesian
// bootstrap with one more person all wrong (Gaffke 2005, from memory) in 98 %,
// where people are alike at three times the width.
//
// The test repeats the first trials. A cell of 200 is uncertain by 1.5, and so it
// holds each cell to a wider range, and their mean to 93 to 97 %.
func TestCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("simulation of some seconds")
	}
	var sum, cells float64
	for _, p := range []population{alike, oneHard} {
		for _, people := range []int{30, 60} {
			bca, percentile, wilson, _ := p.coverage(*coverageTrials, people)
			what := fmt.Sprintf("%s, %d people", p.name, people)
			t.Logf("%s: BCa %.3f, percentile %.3f, ignoring clusters %.3f", what, bca, percentile, wilson)
			for k, name := range []string{"pooled recall", "pooled F1", "mean recall over people"} {
				sum, cells = sum+bca[k], cells+1
				if bca[k] < 0.905 || bca[k] > 0.985 || percentile[k] < 0.88 || percentile[k] > 0.985 {
					t.Errorf("%s, %s: BCa holds the truth in %.3f of trials, percentile in %.3f", what, name, bca[k], percentile[k])
				}
			}
			if wilson > 0.85 {
				t.Errorf("%s: the interval that ignores clusters holds the truth in %.3f of trials: the trial has no clusters", what, wilson)
			}
		}
	}
	if mean := sum / cells; mean < 0.93 || mean > 0.97 {
		t.Errorf("BCa holds the truth in %.4f of trials on average, want 0.93 to 0.97", mean)
	}
}

// Where the errors lie with few people, intervals miss the truth more often than
// they say, and the warning stands beside nearly all that do.
func TestWarningWhereIntervalsMiss(t *testing.T) {
	const people = 30
	p, missed, warned := &perfectOrBad, 0, 0
	for i := range uint64(200) {
		c := p.trial(rand.New(rand.NewPCG(2024, mix(i))), people)
		o := Options{Resamples: minResamples, Seed: i}
		low, high := o.bootstrap(c, 3, trialFigures)[0].Best()
		if (Bounds{low, high}).holds(p.truth[0]) == 1 {
			continue
		}
		missed++
		n := effectivePeople(trialErrors(c))
		if fewPeopleWarning("the errors", n, people) != "" {
			warned++
		}
	}
	if missed < 16 || warned < missed-1 {
		t.Errorf("%d of 200 intervals miss the truth, %d of them with a warning: want more than one in twenty to miss, and all but one to warn", missed, warned)
	}
}

func TestEffectivePeople(t *testing.T) {
	for _, tt := range []struct {
		shares []float64
		want   float64
	}{{nil, 0}, {[]float64{0, 0}, 0}, {[]float64{0, 7, 0}, 1}, {[]float64{3, 3, 3, 3}, 4}, {[]float64{1, 2, 3}, 36. / 14}} {
		if got := effectivePeople(slices.Values(tt.shares)); math.Abs(got-tt.want) > 1e-15 {
			t.Errorf("%v: %v, want %v", tt.shares, got, tt.want)
		}
	}
}

// TestCoverageByPeople prints the table above, and holds the pooled recall of BCa to
// it, by four standard errors; it takes minutes and runs only when asked for more
// trials than by default.
func TestCoverageByPeople(t *testing.T) {
	if *coverageTrials <= 1000 {
		t.Skip("give -coverage-trials 4000 to repeat the table of coverage")
	}
	table := map[string][5]float64{
		"most alike": {94.5, 94.8, 95.0, 95.2, 95.5}, "one in seven hard": {82.5, 90.7, 93.5, 95.1, 95.1}, "perfect or bad": {65.5, 83.5, 88.9, 94.2, 94.7},
		"circor, conv-hsmm": {70.3, 75.9, 79.6, 79.5, 81.7}, "circor, duration-hmm": {89.9, 89.6, 89.6, 91.4, 93.9},
	}
	for _, p := range append([]population{alike, oneHard, perfectOrBad}, realPopulations(t)...) {
		t.Run(p.name, func(t *testing.T) {
			for i, people := range []int{10, 20, 30, 60, 118} {
				bca, percentile, wilson, effective := p.coverage(*coverageTrials, people)
				t.Logf("%s, %d people: BCa %.3f, percentile %.3f, ignoring clusters %.3f, effective people %.1f", p.name, people, bca, percentile, wilson, effective)
				want := table[p.name][i] / 100
				if math.Abs(bca[0]-want) > 4*math.Sqrt(want*(1-want)/float64(*coverageTrials)) {
					t.Errorf("%s, %d people: BCa holds the truth in %.3f of trials, the table has %.3f", p.name, people, bca[0], want)
				}
			}
		})
	}
}

// holds returns 1 if truth lies within b and else 0.
func (b Bounds) holds(truth float64) float64 {
	if float64(b[0]) <= truth && truth <= float64(b[1]) {
		return 1
	}
	return 0
}

func TestBootstrapIsTheSameForAnyNumberOfProcessors(t *testing.T) {
	c := oneHard.trial(rand.New(rand.NewPCG(1, 1)), 60)
	o := Options{Resamples: 500, Seed: 9}
	want := o.resample(c, 3, trialFigures)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, n := range []int{1, 3} {
		runtime.GOMAXPROCS(n)
		got := o.resample(c, 3, trialFigures)
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
	c := &clusters{columns: 5, sums: []float64{9, 0, 1, 0.9, 1}}
	for _, b := range o.bootstrap(c, 3, trialFigures) {
		if !b.Percentile[0].Null() || !b.BCa[0].Null() {
			t.Errorf("interval %v from one person", b)
		}
	}
	// Where everybody is perfect nothing varies: BCa is defined and has no width.
	c.sums = []float64{10, 0, 0, 1, 1, 20, 0, 0, 1, 1}
	for _, b := range o.bootstrap(c, 3, trialFigures) {
		if low, high := b.Best(); low != 1 || high != 1 {
			t.Errorf("interval %v of a perfect score", b)
		}
	}
}
