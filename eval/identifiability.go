package eval

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"phonocycle/eval/tabular"
)

// IdentifiabilityOptions say how groups of recordings are told apart.
type IdentifiabilityOptions struct {
	By        Grouping // what is told apart
	Folds     int      // by person
	Seed      uint64   // of folds and bootstrap
	Resamples int      // of the bootstrap over people
	L2        float64  // ridge penalty λ
	Top       int      // features to list
}

// DefaultIdentifiabilityOptions returns the options that are used where no other
// are set.
func DefaultIdentifiabilityOptions() IdentifiabilityOptions {
	return IdentifiabilityOptions{By: Grouping{ByDataSet}, Folds: 5, Seed: 1, Resamples: 1000, L2: 1, Top: 10}
}

// Validate reports the first option that cannot be followed.
func (o *IdentifiabilityOptions) Validate() error {
	switch {
	case len(o.By) == 0:
		return fmt.Errorf("by names no property: give one, such as %s", ByDataSet)
	case o.Folds < 2:
		return fmt.Errorf("folds is %d: at least 2 are needed", o.Folds)
	case o.Resamples < 0:
		return fmt.Errorf("resamples is %d: 0 or more", o.Resamples)
	case !(o.L2 > 0) || math.IsInf(o.L2, 0):
		return fmt.Errorf("l2 is %v: the ridge penalty is a number above zero", o.L2)
	case o.Top < 0:
		return fmt.Errorf("top is %d: 0 or more", o.Top)
	}
	return nil
}

// FeatureMatrix holds the features of recordings.
type FeatureMatrix struct {
	Names   []string        // of the features
	Rows    []FeatureVector // one per recording
	LeftOut int             // recordings without features or without a group
}

// FeatureVector is the features of one recording.
type FeatureVector struct {
	Group, Person string
	Values        []float64 // NaN where a feature is null
}

// Estimate is a value with its 95 % interval by bootstrap over people; null where
// it is not defined.
type Estimate struct {
	Value Ratio `json:"value"`
	Low   Ratio `json:"low"`
	High  Ratio `json:"high"`
}

// Identifiability says how well a plain classifier tells data sets, or other
// groups, apart from the features of their recordings. Where it does so well, a
// classifier of anything that the data sets do not share alike can learn the data
// set instead: Panah, Hines and McKeever 2020 told the parts of one collection
// apart from spectra alone with an accuracy of 98 %.
type Identifiability struct {
	By               string          `json:"by"`
	Folds            int             `json:"folds"`
	Seed             uint64          `json:"seed"`
	Resamples        int             `json:"resamples"`
	L2               float64         `json:"l2"`
	Features         int             `json:"features"`
	Dropped          int             `json:"features_dropped"` // null in most recordings, or constant
	Recordings       int             `json:"recordings"`
	People           int             `json:"people"`
	Largest          float64         `json:"share_of_largest"` // the accuracy of always naming the largest
	Accuracy         Estimate        `json:"accuracy"`
	BalancedAccuracy Estimate        `json:"balanced_accuracy"`
	AUC              Estimate        `json:"auc"` // mean over classes
	Classes          []IdentifiedAs  `json:"classes"`
	Top              []FeatureRating `json:"top_features"`
	Warnings         []string        `json:"warnings"`
}

// IdentifiedAs is a group that is told apart from the others.
type IdentifiedAs struct {
	Name       string   `json:"name"`
	Recordings int      `json:"recordings"`
	People     int      `json:"people"`
	Recall     Estimate `json:"recall"`
	AUC        Estimate `json:"auc"`
}

// FeatureRating is how well one feature alone tells a group from the others.
type FeatureRating struct {
	Name  string  `json:"name"`
	Class string  `json:"class"`
	AUC   float64 `json:"auc"` // below one half where the class has the lower values
}

// Identify reports how well the groups of recordings can be told apart by their
// features: by a multinomial logistic regression on standardised features, each
// recording predicted by a model that was not fitted to its person. It calls step
// after each fold.
func Identify(ctx context.Context, m *FeatureMatrix, o IdentifiabilityOptions, step func()) (*Identifiability, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	d := newGroupedFeatures(m)
	if len(d.classes) < 2 {
		return nil, fmt.Errorf("nothing to tell apart: all %d recordings are of %q; run over several data sets, or name a label with --by", len(d.y), d.classes)
	}
	folds, err := Folds(d.people, o.Folds, o.Seed)
	if err != nil {
		return nil, err
	}
	probabilities, err := d.crossValidate(ctx, folds, &o, step)
	if err != nil {
		return nil, err
	}
	r := &Identifiability{
		By: o.By.String(), Folds: o.Folds, Seed: o.Seed, Resamples: o.Resamples, L2: o.L2,
		Features: len(d.names), Dropped: len(m.Names) - len(d.names), Recordings: len(d.x), People: len(d.people), Warnings: []string{},
	}
	d.score(r, probabilities, &o)
	r.Top = d.rate(o.Top)
	if m.LeftOut > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%s left out: no features, or no value of %s", tabular.Plural(m.LeftOut, "recording", "recordings"), r.By))
	}
	for _, c := range r.Classes {
		if c.People < r.Folds {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s has %s, fewer than there are folds: its figures say little", c.Name, tabular.Plural(c.People, "person", "people")))
		}
	}
	return r, nil
}

// groupedFeatures are the features that can tell classes apart.
type groupedFeatures struct {
	names   []string // of the features
	classes []string // sorted
	x       [][]float64
	y       []int // class of each recording
	person  []int // of each recording
	people  []Person
}

// newGroupedFeatures numbers classes and people, and leaves out features that are
// null in most recordings or never vary.
func newGroupedFeatures(m *FeatureMatrix) *groupedFeatures {
	d := &groupedFeatures{}
	for _, row := range m.Rows {
		d.classes = append(d.classes, row.Group)
	}
	slices.Sort(d.classes)
	d.classes = slices.Compact(d.classes)
	var keep []int
	for j, name := range m.Names {
		n, low, high := 0, math.Inf(1), math.Inf(-1)
		for _, row := range m.Rows {
			if v := row.Values[j]; !math.IsNaN(v) {
				n, low, high = n+1, math.Min(low, v), math.Max(high, v)
			}
		}
		if 2*n > len(m.Rows) && low < high {
			keep = append(keep, j)
			d.names = append(d.names, name)
		}
	}
	number := make(map[string]int)
	for _, row := range m.Rows {
		if _, ok := number[row.Person]; !ok {
			number[row.Person] = len(d.people)
			d.people = append(d.people, Person{ID: row.Person, Stratum: row.Group})
		}
		class, _ := slices.BinarySearch(d.classes, row.Group)
		values := make([]float64, len(keep))
		for k, j := range keep {
			values[k] = row.Values[j]
		}
		d.x, d.y, d.person = append(d.x, values), append(d.y, class), append(d.person, number[row.Person])
	}
	return d
}

// crossValidate returns the probability of each class, a row per recording, by the
// fit to the folds without its person.
func (d *groupedFeatures) crossValidate(ctx context.Context, folds map[string]int, o *IdentifiabilityOptions, step func()) (*mat.Dense, error) {
	probabilities := mat.NewDense(len(d.x), len(d.classes), nil)
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
		weights, err := fitMultinomial(scale.apply(train), y, len(d.classes), o.L2)
		if err != nil {
			return nil, err
		}
		p := multinomial(scale.apply(test), weights)
		for k, i := range tested {
			probabilities.SetRow(i, p.RawRowView(k))
		}
		step()
	}
	return probabilities, nil
}

// tables returns the figures, the classes and the top features.
func (r *Identifiability) tables() []tabular.Table {
	type figure struct {
		name   string
		e      Estimate
		chance float64
	}
	figures := tabular.Fill(tabular.Table{
		Name: "identifiability", Title: fmt.Sprintf("%d values of %s told apart by %d features of %s of %s",
			len(r.Classes), r.By, r.Features, tabular.Plural(r.Recordings, "recording", "recordings"), tabular.Plural(r.People, "person", "people")),
		Note: fmt.Sprintf("Multinomial logistic regression on standardised features, ridge penalty λ = %g; a null takes the mean. %d folds by person; 95 %% percentile intervals by bootstrap over people, %d resamples, seed %d. %s left out: null in most recordings, or constant.",
			r.L2, r.Folds, r.Resamples, r.Seed, tabular.Plural(r.Dropped, "feature", "features")),
	}, []figure{
		{"accuracy", r.Accuracy, r.Largest},
		{"balanced accuracy", r.BalancedAccuracy, 1 / float64(len(r.Classes))},
		{"area under the curve, mean over classes", r.AUC, 0.5},
	},
		tabular.Words("Figure", func(f figure) string { return f.name }),
		estimates("Value", func(f figure) Estimate { return f.e }),
		tabular.Numbers("If always the largest, or by chance", tabular.Thousandths, func(f figure) float64 { return f.chance }))
	classes := tabular.Fill(tabular.Table{Name: "classes", Title: "Each against the others"}, r.Classes,
		tabular.Words(r.By, func(c IdentifiedAs) string { return c.Name }),
		tabular.Counts("Recordings", func(c IdentifiedAs) int { return c.Recordings }),
		tabular.Counts("People", func(c IdentifiedAs) int { return c.People }),
		estimates("Recall", func(c IdentifiedAs) Estimate { return c.Recall }),
		estimates("Area under the curve", func(c IdentifiedAs) Estimate { return c.AUC }))
	features := tabular.Fill(tabular.Table{
		Name: "top_features", Title: "Features that tell one from the others by themselves",
		Note: "Below 0.5 where it has the lower values.",
	}, r.Top,
		tabular.Words("Feature", func(f FeatureRating) string { return f.Name }),
		tabular.Words(r.By, func(f FeatureRating) string { return f.Class }),
		tabular.Numbers("Area under the curve", tabular.Thousandths, func(f FeatureRating) float64 { return f.AUC }))
	return []tabular.Table{figures, classes, features}
}

// estimates makes a column of estimates.
func estimates[T any](name string, of func(T) Estimate) tabular.Field[T] {
	return tabular.Intervals(name, tabular.Thousandths, func(v T) (value, low, high Ratio) {
		e := of(v)
		return e.Value, e.Low, e.High
	})
}

// WriteText writes the report as text.
func (r *Identifiability) WriteText(w io.Writer) error {
	var b bytes.Buffer
	writeTables(&b, r.tables())
	b.WriteByte('\n')
	tabular.Wrap(&b, "", "If the group of a recording can be told, a classifier that is trained on these tables together can learn the group "+
		"instead of what the labels mean. Compare labels within each group, or keep a whole group for testing.")
	return writeText(w, &b, r.Warnings)
}

// WriteTable writes the figures of all classes for a paper.
func (r *Identifiability) WriteTable(w io.Writer, format tabular.Format) error {
	t := r.tables()[1]
	return t.Write(w, format)
}
