package pipeline

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// LeakageOptions say how it is tried to tell data sets apart.
type LeakageOptions struct {
	By        string  // label that is told apart; empty is the data set
	Folds     int     // by person
	Seed      uint64  // of folds and bootstrap
	Resamples int     // of the bootstrap over people
	C         float64 // weight of the data against the ridge penalty
	Most      int     // telling features to name
}

// DefaultLeakageOptions returns the options that are used unless told otherwise.
func DefaultLeakageOptions() LeakageOptions {
	return LeakageOptions{Folds: 5, Seed: 1, Resamples: 1000, C: 1, Most: 10}
}

func (o *LeakageOptions) check() error {
	switch {
	case o.Folds < 2:
		return fmt.Errorf("folds is %d: at least 2 are needed", o.Folds)
	case o.Resamples < 0:
		return fmt.Errorf("resamples is %d: 0 or more", o.Resamples)
	case !(o.C > 0) || math.IsInf(o.C, 0):
		return fmt.Errorf("c is %v: it is a weight above zero", o.C)
	}
	return nil
}

// Figure is a figure with its 95 % interval by bootstrap over people; null where
// it is not defined.
type Figure struct {
	Value eval.Ratio `json:"value"`
	Low   eval.Ratio `json:"low"`
	High  eval.Ratio `json:"high"`
}

// Leak says how well a plain classifier tells data sets apart from the features
// of their recordings. Where it does so well, a classifier of anything that the
// data sets do not share alike can learn the data set in its place: Panah, Hines
// and McKeever 2020 told the parts of one collection apart from spectra alone
// with an accuracy of 98 %.
type Leak struct {
	By               string        `json:"by"`
	Folds            int           `json:"folds"`
	Seed             uint64        `json:"seed"`
	Resamples        int           `json:"resamples"`
	C                float64       `json:"c"`
	Features         int           `json:"features"`
	Dropped          int           `json:"features_dropped"` // null in most recordings, or constant
	Recordings       int           `json:"recordings"`
	People           int           `json:"people"`
	Largest          float64       `json:"share_of_largest"` // the accuracy of always naming the largest
	Accuracy         Figure        `json:"accuracy"`
	BalancedAccuracy Figure        `json:"balanced_accuracy"`
	AUC              Figure        `json:"auc"` // mean over classes
	Classes          []LeakClass   `json:"classes"`
	Telling          []LeakFeature `json:"telling_features"`
	Warnings         []string      `json:"warnings"`
}

// LeakClass is what is told apart from the rest.
type LeakClass struct {
	Name       string `json:"name"`
	Recordings int    `json:"recordings"`
	People     int    `json:"people"`
	Recall     Figure `json:"recall"`
	AUC        Figure `json:"auc"`
}

// LeakFeature is a feature that tells a class from the rest by itself.
type LeakFeature struct {
	Name  string  `json:"name"`
	Class string  `json:"class"`
	AUC   float64 `json:"auc"` // below one half where the class has the lower values
}

// leakData are the recordings whose origin is told.
type leakData struct {
	names   []string // of the features
	classes []string // sorted
	x       [][]float64
	y       []int
	person  []int
	people  []eval.Person
	left    int // recordings without features or without the label
	dropped int
}

// Leakage reads the recordings tables of output folders and reports how well
// their data sets, or the values of a label, can be told apart from the features:
// by a multinomial logistic regression on standardised features, each recording
// judged by a fit without its person.
func Leakage(ctx context.Context, dirs []string, o LeakageOptions, p Progress) (*Leak, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	d, err := readLeakData(dirs, o.By)
	if err != nil {
		return nil, err
	}
	folds, err := eval.Folds(d.people, o.Folds, o.Seed)
	if err != nil {
		return nil, err
	}
	probabilities, err := d.crossValidate(ctx, folds, &o, orSilent(p))
	if err != nil {
		return nil, err
	}
	leak := &Leak{
		By: o.By, Folds: o.Folds, Seed: o.Seed, Resamples: o.Resamples, C: o.C,
		Features: len(d.names), Dropped: d.dropped, Recordings: len(d.x), People: len(d.people), Warnings: []string{},
	}
	if leak.By == "" {
		leak.By = "data set"
	}
	d.score(leak, probabilities, &o)
	leak.Telling = d.telling(o.Most)
	d.warn(leak)
	return leak, nil
}

// readLeakData reads the features that all folders have.
func readLeakData(dirs []string, by string) (*leakData, error) {
	if len(dirs) == 0 {
		return nil, errors.New("no tables: name the folder that run or extract wrote with --tables")
	}
	d := &leakData{}
	names := []string{}
	class := []string{}
	people := map[string]int{}
	for i, dir := range dirs {
		r, err := table.OpenParts[table.Recording](table.PartsOf[table.Recording](dir))
		if err != nil {
			return nil, err
		}
		columns := floatNames(r.Columns())
		if i == 0 {
			d.names = columns
		} else if !slices.Equal(columns, d.names) {
			return nil, fmt.Errorf("%s has other features than %s: extract both with one version", dir, dirs[0])
		}
		label := slices.Index(labelNames(r.Columns()), by)
		if by != "" && label < 0 {
			return nil, fmt.Errorf("%s has no label %s: it has %v", dir, by, labelNames(r.Columns()))
		}
		for record, err := range r.Rows() {
			if err != nil {
				return nil, err
			}
			row := &record.Row
			value := row.Source
			if by != "" {
				value = record.Cells.Labels[label]
			}
			if row.Outcome != table.Done || value == "" {
				d.left++
				continue
			}
			id := row.Source + "/" + row.Person
			if _, ok := people[id]; !ok {
				people[id] = len(d.people)
				d.people = append(d.people, eval.Person{ID: id, Stratum: value})
			}
			class, names = append(class, value), append(names, id)
			d.x = append(d.x, slices.Clone(record.Cells.Floats))
		}
	}
	if len(d.names) == 0 {
		return nil, fmt.Errorf("%s has no features: name a folder that run or extract wrote", dirs[0])
	}
	d.classes = slices.Compact(slices.Sorted(slices.Values(class)))
	if len(d.classes) < 2 {
		return nil, fmt.Errorf("nothing to tell apart: all %d recordings are of %q; run over several data sets, or name a label with --by", len(class), d.classes)
	}
	for i := range class {
		k, _ := slices.BinarySearch(d.classes, class[i])
		d.y = append(d.y, k)
		d.person = append(d.person, people[names[i]])
	}
	d.dropFeatures()
	return d, nil
}

func floatNames(columns []table.Column) []string {
	var names []string
	for _, c := range columns {
		if c.Kind == table.Float {
			names = append(names, c.Name)
		}
	}
	return names
}

// dropFeatures leaves out what is null in most recordings or never varies.
func (d *leakData) dropFeatures() {
	var keep []int
	for j := range d.names {
		n, low, high := 0, math.Inf(1), math.Inf(-1)
		for _, row := range d.x {
			if v := row[j]; !math.IsNaN(v) {
				n, low, high = n+1, math.Min(low, v), math.Max(high, v)
			}
		}
		if 2*n > len(d.x) && low < high {
			keep = append(keep, j)
		}
	}
	d.dropped = len(d.names) - len(keep)
	pick := func(k, j int) { d.names[k] = d.names[j] }
	for k, j := range keep {
		pick(k, j)
		for _, row := range d.x {
			row[k] = row[j]
		}
	}
	d.names = d.names[:len(keep)]
	for i := range d.x {
		d.x[i] = d.x[i][:len(keep)]
	}
}

// crossValidate returns the probability of each class for each recording, by the
// fit to the folds without its person.
func (d *leakData) crossValidate(ctx context.Context, folds map[string]int, o *LeakageOptions, p Progress) ([][]float64, error) {
	probabilities := make([][]float64, len(d.x))
	p.Start("leakage", o.Folds)
	defer p.Done()
	for fold := range o.Folds {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var train, test [][]float64
		var y, tested []int
		for i, row := range d.x {
			if folds[d.people[d.person[i]].ID] == fold {
				test, tested = append(test, row), append(tested, i)
			} else {
				train, y = append(train, row), append(y, d.y[i])
			}
		}
		scale := scalingOf(train, len(d.names))
		model, err := fitMultinomial(scale.apply(train), y, len(d.classes), o.C)
		if err != nil {
			return nil, err
		}
		for k, row := range scale.apply(test) {
			probabilities[tested[k]] = make([]float64, len(d.classes))
			model.probabilities(probabilities[tested[k]], row)
		}
		p.Step(1)
	}
	return probabilities, nil
}

// score fills in the figures and their intervals, which are about other people
// judged by the same fits: none is made anew. The bootstrap draws people
// with replacement within each class of a person's first recording, so that the
// sizes of the data sets stay what they are.
func (d *leakData) score(leak *Leak, probabilities [][]float64, o *LeakageOptions) {
	s := newLeakScorer(d, probabilities)
	weights := make([]float64, len(d.people))
	for i := range weights {
		weights[i] = 1
	}
	estimate := s.figures(weights)
	replicates := make([][]float64, len(estimate))
	strata := d.strata()
	random := rand.New(rand.NewPCG(o.Seed, 0x6c65616b))
	for range o.Resamples {
		clear(weights)
		for _, people := range strata {
			for range people {
				weights[people[random.IntN(len(people))]]++
			}
		}
		for k, v := range s.figures(weights) {
			if !math.IsNaN(v) {
				replicates[k] = append(replicates[k], v)
			}
		}
	}
	figure := func(k int) Figure {
		low, high := percentiles(replicates[k])
		return Figure{eval.Ratio(estimate[k]), eval.Ratio(low), eval.Ratio(high)}
	}
	leak.Accuracy, leak.BalancedAccuracy, leak.AUC = figure(0), figure(1), figure(2)
	for k, name := range d.classes {
		c := LeakClass{Name: name, Recall: figure(3 + 2*k), AUC: figure(4 + 2*k)}
		people := map[int]bool{}
		for i, y := range d.y {
			if y == k {
				c.Recordings++
				people[d.person[i]] = true
			}
		}
		c.People = len(people)
		leak.Classes = append(leak.Classes, c)
		leak.Largest = math.Max(leak.Largest, float64(c.Recordings)/float64(len(d.y)))
	}
}

// strata returns the numbers of the people of each class, classes in order.
func (d *leakData) strata() [][]int {
	by := map[string][]int{}
	for i, p := range d.people {
		by[p.Stratum] = append(by[p.Stratum], i)
	}
	var strata [][]int
	for _, name := range slices.Sorted(maps.Keys(by)) {
		strata = append(strata, by[name])
	}
	return strata
}

// percentiles returns the bounds of the middle 95 % of the replicates.
func percentiles(x []float64) (low, high float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(x)
	at := func(q float64) float64 { return x[int(math.Round(q*float64(len(x)-1)))] }
	return at(0.025), at(0.975)
}

// leakScorer computes figures of given probabilities for any weights of people.
type leakScorer struct {
	data   *leakData
	named  []int       // the likeliest class of each recording
	order  [][]int     // of each class: recordings by ascending probability
	chance [][]float64 // of each class: the probabilities of the recordings
	isOf   [][]bool    // of each class: whether the recording is of it
	weight []float64   // of recordings
}

func newLeakScorer(d *leakData, probabilities [][]float64) *leakScorer {
	s := &leakScorer{data: d, weight: make([]float64, len(d.y))}
	for _, p := range probabilities {
		best := 0
		for k, v := range p {
			if v > p[best] {
				best = k
			}
		}
		s.named = append(s.named, best)
	}
	for k := range d.classes {
		chance, isOf := make([]float64, len(d.y)), make([]bool, len(d.y))
		for i, p := range probabilities {
			chance[i], isOf[i] = p[k], d.y[i] == k
		}
		s.chance, s.isOf = append(s.chance, chance), append(s.isOf, isOf)
		s.order = append(s.order, ascending(chance))
	}
	return s
}

// figures returns accuracy, balanced accuracy and mean area under the curve, and
// then recall and area of each class.
func (s *leakScorer) figures(people []float64) []float64 {
	d := s.data
	right, all := make([]float64, len(d.classes)), make([]float64, len(d.classes))
	for i, y := range d.y {
		w := people[d.person[i]]
		s.weight[i] = w
		all[y] += w
		if s.named[i] == y {
			right[y] += w
		}
	}
	out := make([]float64, 3, 3+2*len(d.classes))
	var rights, alls float64
	for k := range d.classes {
		recall, area := right[k]/all[k], auc(s.order[k], s.chance[k], s.isOf[k], s.weight)
		rights, alls = rights+right[k], alls+all[k]
		out[1] += recall / float64(len(d.classes))
		out[2] += area / float64(len(d.classes))
		out = append(out, recall, area)
	}
	out[0] = rights / alls
	return out
}

// ascending returns the places of x in the order of their values.
func ascending(x []float64) []int {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	return order
}

// auc returns the area under the receiver operating characteristic of a score
// for telling the positive from the rest: the probability that a positive has the
// higher score, ties counting half (Hanley and McNeil 1982, doi
// 10.1148/radiology.143.1.7063747). order lists what counts, by ascending score.
func auc(order []int, score []float64, positive []bool, weight []float64) float64 {
	var area, below, positives float64
	for i := 0; i < len(order); {
		var p, n float64
		first := score[order[i]]
		for ; i < len(order) && score[order[i]] == first; i++ {
			if w := weight[order[i]]; positive[order[i]] {
				p += w
			} else {
				n += w
			}
		}
		area += p * (below + n/2)
		below += n
		positives += p
	}
	return area / (positives * below)
}

// telling returns the features that best tell a class from the rest, each by
// itself, one row a feature.
func (d *leakData) telling(most int) []LeakFeature {
	weight := make([]float64, len(d.y))
	for i := range weight {
		weight[i] = 1
	}
	value, isOf := make([]float64, len(d.y)), make([]bool, len(d.y))
	features := make([]LeakFeature, 0, len(d.names))
	for j, name := range d.names {
		var order []int
		for i, row := range d.x {
			value[i] = row[j]
		}
		for _, i := range ascending(value) {
			if !math.IsNaN(value[i]) {
				order = append(order, i)
			}
		}
		best := LeakFeature{Name: name, AUC: 0.5}
		for k, class := range d.classes {
			for i, y := range d.y {
				isOf[i] = y == k
			}
			if a := auc(order, value, isOf, weight); math.Abs(a-0.5) > math.Abs(best.AUC-0.5) {
				best.Class, best.AUC = class, a
			}
		}
		if best.Class != "" {
			features = append(features, best)
		}
	}
	slices.SortStableFunc(features, func(a, b LeakFeature) int {
		return cmp.Compare(math.Abs(b.AUC-0.5), math.Abs(a.AUC-0.5))
	})
	return features[:min(most, len(features))]
}

// warn says what the figures do not show.
func (d *leakData) warn(leak *Leak) {
	if d.left > 0 {
		leak.Warnings = append(leak.Warnings, fmt.Sprintf("%d recordings have no features or no value of %s and are left out", d.left, leak.By))
	}
	for _, c := range leak.Classes {
		if c.People < leak.Folds {
			leak.Warnings = append(leak.Warnings, fmt.Sprintf("%s has %d people, fewer than folds: its figures say little", c.Name, c.People))
		}
	}
}
