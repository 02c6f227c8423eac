package eval

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// Run is the accumulated results of one method.
type Run struct {
	Name    string
	Results *Accumulator
}

// Comparison says how runs on the same recordings differ, and which of the
// differences the data support.
type Comparison struct {
	Runs       []string     `json:"runs"`
	Rules      RulesSummary `json:"rules"`
	People     int          `json:"people"`
	Recordings int          `json:"recordings"` // in the scores
	Resamples  int          `json:"resamples"`
	Seed       uint64       `json:"seed"`
	Confidence float64      `json:"confidence"`
	Scores     []RunScore   `json:"scores"`
	Pairs      []Pair       `json:"pairs"`
	Warnings   []string     `json:"warnings"`
}

// RunScore is a headline row of one run.
type RunScore struct {
	Run string `json:"run"`
	Score
}

// Pair compares two runs. The difference that decides is that of the mean over
// people of F1 over both sounds, or of S1 where it is scored alone, since people are
// what is drawn and tested.
type Pair struct {
	First       string       `json:"first"`
	Second      string       `json:"second"`
	Differences []Difference `json:"differences"`
	Test        SignedRank   `json:"wilcoxon"` // of the F1 that decides, over people
	AdjustedP   Ratio        `json:"adjusted_p"`
	Better      string       `json:"better"` // name of the run that the data support as better, or ""
	Words       string       `json:"words"`
}

// Difference is second minus first of F1 for one class and aggregate, with an
// interval from resamples that draw the same people for both.
type Difference struct {
	Class      Class     `json:"class"`
	Aggregate  Aggregate `json:"aggregate"`
	First      Ratio     `json:"first"`
	Second     Ratio     `json:"second"`
	Difference Ratio     `json:"difference"`
	Low        Ratio     `json:"low"` // BCa, or percentile where that is undefined
	High       Ratio     `json:"high"`
	Intervals  Intervals `json:"intervals"`
}

// significance is the level at which an adjusted p counts: the complement of
// the confidence of the intervals.
const significance = 1 - confidence

// differenceResamples is the number of resamples for differences where none is
// asked for. From there on the tenths that are printed stand: the end of an interval
// of width w is uncertain by about 0.7 w/√resamples, a twentieth of a point for
// w = 10.
const differenceResamples = 20_000

// Compare compares two or more runs, each pair of them, and adjusts the tests
// for their number. Runs by different rules or on different recordings are
// refused with the first difference. Options other than resamples and seed have
// no effect; the scores of each run have the intervals of its own options.
func Compare(runs []Run, options Options) (*Comparison, error) {
	if err := cmp.Or(CheckResamples(options.Resamples), sameBasis(runs)); err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	options.Resamples = cmp.Or(options.Resamples, differenceResamples)
	o := options.withDefaults()
	first := runs[0].Results
	c := &Comparison{
		Rules: first.rules.summary(), Resamples: o.Resamples, Seed: o.Seed, Confidence: confidence, Warnings: []string{},
	}
	groups := make([]*group, len(runs))
	for i, r := range runs {
		groups[i] = r.Results.group(-1)
		c.Runs = append(c.Runs, r.Name)
		for _, row := range r.Results.headlineRows("", groups[i]) {
			c.Scores = append(c.Scores, RunScore{r.Name, row})
		}
	}
	c.People, c.Recordings = groups[0].people(), groups[0].recordings
	var p []Ratio
	var few []string
	for i := range runs {
		for j := i + 1; j < len(runs); j++ {
			pair := o.pair(groups[i], groups[j], first.rules.reported())
			pair.First, pair.Second = runs[i].Name, runs[j].Name
			n := effectivePeople(groups[i].errorsApart(groups[j]))
			if text := fewPeopleWarning("the differences of "+pair.First+" and "+pair.Second, n, c.People); text != "" && c.People >= defaultMinPeople {
				few = append(few, text)
			}
			c.Pairs = append(c.Pairs, pair)
			p = append(p, pair.Test.P)
		}
	}
	for i, adjusted := range holm(p) {
		c.Pairs[i].AdjustedP = adjusted
		c.Pairs[i].judge(c.Rules.HeadlineClass())
	}
	c.warn(&o, few)
	return c, nil
}

// warn says what limits the comparison as a whole.
func (c *Comparison) warn(o *Options, few []string) {
	if c.People < defaultMinPeople {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%s: too few to tell runs apart", tabular.Plural(c.People, "person", "people")))
	}
	c.Warnings = append(c.Warnings, few...)
	if o.Resamples < minResamples {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%d resamples are too few for a stable interval: take %d or more", o.Resamples, minResamples))
	}
}

// pair compares two groups of the same people in the same order, by the given
// classes, of which the first decides.
func (o *Options) pair(a, b *group, reported []Class) Pair {
	joint := &clusters{columns: 2 * groupColumns}
	var perPerson []float64
	for i := range a.people() {
		joint.sums = append(append(joint.sums, a.row(i)...), b.row(i)...)
		if f, g := countsIn(a.row(i)).of(reported[0]).f1(), countsIn(b.row(i)).of(reported[0]).f1(); !f.Null() && !g.Null() {
			perPerson = append(perPerson, float64(g-f))
		}
	}
	first, second := make([]float64, groupFigures), make([]float64, groupFigures)
	groupRatios(first, a.total())
	groupRatios(second, b.total())
	bounds := o.bootstrap(joint, groupFigures, pairRatios)
	p := Pair{Test: wilcoxon(perPerson)}
	for aggregate := range Aggregate(aggregates) {
		for _, class := range reported {
			at := figureOf(aggregate, class, numberOfRatios-1)
			d := Difference{
				Class: class, Aggregate: aggregate, First: Ratio(first[at]), Second: Ratio(second[at]),
				Difference: Ratio(second[at] - first[at]), Intervals: bounds[at],
			}
			d.Low, d.High = bounds[at].Best()
			p.Differences = append(p.Differences, d)
		}
	}
	return p
}

// pairRatios computes for each ratio of a group second minus first.
func pairRatios(f, totals []float64) {
	var first [groupFigures]float64
	groupRatios(first[:], totals[:groupColumns])
	groupRatios(f, totals[groupColumns:])
	for i := range f {
		f[i] -= first[i]
	}
}

// difference returns one of the differences.
func (p *Pair) difference(class Class, aggregate Aggregate) *Difference {
	i := slices.IndexFunc(p.Differences, func(d Difference) bool { return d.Class == class && d.Aggregate == aggregate })
	return &p.Differences[i]
}

// judge states what the data support of the given class. A difference is
// supported when interval and test agree that it is not zero.
func (p *Pair) judge(class Class) {
	d := p.difference(class, PerPerson)
	first, second, difference, low, high := p.First, p.Second, d.Difference, d.Low, d.High
	if difference < 0 { // name the higher one first
		first, second, difference, low, high = second, first, 0-difference, 0-high, 0-low // 0 stays 0, and not −0
	}
	of := ""
	if class != Both {
		of = fmt.Sprintf(" of %v", class)
	}
	size := fmt.Sprintf("%s is %s points above %s in mean F1%s over people (95 %% interval %s to %s), adjusted p %s",
		second, strings.TrimPrefix(tabular.Points(float64(difference)), "+"), first, of, tabular.Number(low, tabular.Points), tabular.Number(high, tabular.Points), tabular.Number(p.AdjustedP, tabular.PValue))
	apart := !d.Low.Null() && (d.Low > 0 || d.High < 0)
	tested := !p.AdjustedP.Null() && p.AdjustedP < significance
	switch {
	case apart && tested:
		p.Better = second
		p.Words = fmt.Sprintf("The data support that %s is better than %s: %s.", second, first, size)
	case apart || tested:
		p.Words = fmt.Sprintf("Undecided between %s and %s: interval and test disagree; %s.", p.First, p.Second, size)
	case d.Low.Null():
		p.Words = fmt.Sprintf("No statement on %s and %s: there are too few people for an interval.", p.First, p.Second)
	default:
		p.Words = fmt.Sprintf("The data do not tell %s and %s apart: %s. This does not prove that they are equal.", p.First, p.Second, size)
	}
}

// sameBasis returns an error that names the first difference between runs
// other than what was predicted.
func sameBasis(runs []Run) error {
	if len(runs) < 2 {
		return fmt.Errorf("%s: give two or more", tabular.Plural(len(runs), "run", "runs"))
	}
	named := make(map[string]bool)
	for _, r := range runs {
		if r.Name == "" || named[r.Name] {
			return fmt.Errorf("two runs are named %q, or one has no name: give each its own", r.Name)
		}
		named[r.Name] = true
	}
	for _, r := range runs[1:] {
		if d := runs[0].Results.rules.Difference(&r.Results.rules); d != "" {
			return fmt.Errorf("runs %s and %s follow different rules, %s: score both by the same", runs[0].Name, r.Name, d)
		}
		if d := runs[0].Results.difference(&r.Results.cohort); d != "" {
			return fmt.Errorf("runs %s and %s are not on the same recordings, %s: score the same data with both", runs[0].Name, r.Name, d)
		}
	}
	return nil
}

// difference names the first recording in which a and b differ in anything
// that does not depend on the method.
func (a *cohort) difference(b *cohort) string {
	for i := range min(len(a.recordings), len(b.recordings)) {
		x, y := &a.recordings[i], &b.recordings[i]
		switch {
		case x.id != y.id:
			return fmt.Sprintf("number %d is %s against %s", i+1, x.id, y.id)
		case (x.status == Excluded) != (y.status == Excluded):
			return fmt.Sprintf("%s is %v against %v", x.id, x.status, y.status)
		case x.status == Excluded:
			continue
		case a.names[x.person] != b.names[y.person]:
			return fmt.Sprintf("%s is of person %s against %s", x.id, a.personOf(x), b.personOf(y))
		}
		for class := range Class(classes) {
			s, t := x.headline[class], y.headline[class]
			if s.tp+s.fn != t.tp+t.fn {
				return fmt.Sprintf("%s has %d reference %v against %d", x.id, s.tp+s.fn, class, t.tp+t.fn)
			}
		}
	}
	if len(a.recordings) != len(b.recordings) {
		return fmt.Sprintf("%d against %d", len(a.recordings), len(b.recordings))
	}
	return ""
}

// tables returns the scores of the runs and their differences.
func (c *Comparison) tables() []tabular.Table {
	score := func(f tabular.Field[Score]) tabular.Field[RunScore] {
		return tabular.Via(f, func(r RunScore) Score { return r.Score })
	}
	both := slices.DeleteFunc(slices.Clone(c.Scores), func(r RunScore) bool { return r.Class != c.Rules.HeadlineClass() })
	return []tabular.Table{
		tabular.Fill(tabular.Table{Name: "runs", Title: fmt.Sprintf("Scores of %s %s on %s of %s", c.Rules.SoundsScored(), c.Rules.headline(),
			tabular.Plural(c.Recordings, "recording", "recordings"), tabular.Plural(c.People, "person", "people")), Note: "In %."}, both,
			tabular.Words("Run", func(r RunScore) string { return r.Run }),
			score(averageColumn), score(recallColumn.On(tabular.Brief)), score(precisionColumn.On(tabular.Brief)), score(f1Column)),
		c.differenceTable(Both, S1, S2),
	}
}

// pairDifference is a difference with the pair that it belongs to.
type pairDifference struct {
	*Pair
	*Difference
}

// differenceTable gives the differences of some classes.
func (c *Comparison) differenceTable(of ...Class) tabular.Table {
	var rows []pairDifference
	for i := range c.Pairs {
		for k := range c.Pairs[i].Differences {
			if d := &c.Pairs[i].Differences[k]; slices.Contains(of, d.Class) {
				rows = append(rows, pairDifference{&c.Pairs[i], d})
			}
		}
	}
	tested := func(name string, p func(*Pair) Ratio) tabular.Field[pairDifference] {
		return tabular.Numbers(name, tabular.PValue, func(d pairDifference) Ratio {
			if d.Aggregate != PerPerson || d.Class != c.Rules.HeadlineClass() { // what is tested
				return null()
			}
			return p(d.Pair)
		})
	}
	return tabular.Fill(tabular.Table{
		Name: "comparison",
		Title: fmt.Sprintf("Differences of F1 %s on %s of %s", c.Rules.headline(),
			tabular.Plural(c.Recordings, "recording", "recordings"), tabular.Plural(c.People, "person", "people")),
		Note: fmt.Sprintf("F1 in %%; differences, second minus first, in percentage points with 95 %% intervals by bootstrap over people, the same people drawn for both (%d resamples, seed %d). "+
			"p by Wilcoxon's signed-rank test over people, adjusted after Holm over %s.", c.Resamples, c.Seed, tabular.Plural(len(c.Pairs), "pair", "pairs")),
	}, rows,
		tabular.Words("First", func(d pairDifference) string { return d.Pair.First }),
		tabular.Words("Second", func(d pairDifference) string { return d.Pair.Second }),
		tabular.Words("Sounds", func(d pairDifference) string { return d.Class.String() }),
		tabular.Words("Average", func(d pairDifference) string { return d.Aggregate.Label() }),
		tabular.Numbers("F1 of first", tabular.Percent, func(d pairDifference) Ratio { return d.Difference.First }).On(tabular.Hidden),
		tabular.Numbers("F1 of second", tabular.Percent, func(d pairDifference) Ratio { return d.Difference.Second }).On(tabular.Hidden),
		tabular.Intervals("Difference", tabular.Points, func(d pairDifference) (value, low, high Ratio) {
			return d.Difference.Difference, d.Low, d.High
		}),
		tested("p", func(p *Pair) Ratio { return p.Test.P }),
		tested("Adjusted p", func(p *Pair) Ratio { return p.AdjustedP }),
		tabular.Words("Better", func(d pairDifference) string {
			if d.Aggregate != PerPerson || d.Class != c.Rules.HeadlineClass() {
				return ""
			}
			return cmp.Or(d.Better, "not shown")
		}).On(tabular.Hidden),
	)
}

// WriteTable writes the differences for a paper.
func (c *Comparison) WriteTable(w io.Writer, format tabular.Format) error {
	return c.differenceTable(c.Rules.HeadlineClass()).Write(w, format)
}

// WriteText writes c for a reader at a terminal.
func (c *Comparison) WriteText(w io.Writer) error {
	var b bytes.Buffer
	writeTables(&b, c.tables())
	fmt.Fprintln(&b)
	for i := range c.Pairs {
		tabular.Wrap(&b, "", c.Pairs[i].Words)
	}
	return writeText(w, &b, c.Warnings)
}
