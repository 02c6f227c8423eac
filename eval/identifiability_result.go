package eval

import (
	"bytes"
	"fmt"
	"io"

	"phonocycle/eval/tabular"
)

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
	Name   string  `json:"name"`
	Class  string  `json:"class"`
	AUC    float64 `json:"auc"`    // max(AUC, 1−AUC): 0.5 is chance, 1 is apart, whichever has the higher values
	Values string  `json:"values"` // higher or lower: those of the class
}

const (
	higher = "higher"
	lower  = "lower"
)

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
		tabular.Numbers("If always the largest, or by chance", tabular.Fraction, func(f figure) float64 { return f.chance }).CSV("by chance"))
	classes := tabular.Fill(tabular.Table{Name: "classes", Title: "Each against the others"}, r.Classes,
		tabular.Words(r.By, func(c IdentifiedAs) string { return c.Name }),
		tabular.Counts("Recordings", func(c IdentifiedAs) int { return c.Recordings }),
		tabular.Counts("People", func(c IdentifiedAs) int { return c.People }),
		estimates("Recall", func(c IdentifiedAs) Estimate { return c.Recall }),
		estimates("Area under the curve", func(c IdentifiedAs) Estimate { return c.AUC }))
	features := tabular.Fill(tabular.Table{
		Name: "top_features", Title: "Features that tell one from the others by themselves",
		Note: "max(AUC, 1−AUC): 0.5 is chance, 1 tells one from all others without an error.",
	}, r.Top,
		tabular.Words("Feature", func(f FeatureRating) string { return f.Name }),
		tabular.Words(r.By, func(f FeatureRating) string { return f.Class }),
		tabular.Words("Its values", func(f FeatureRating) string { return f.Values }),
		tabular.Numbers("max(AUC, 1−AUC)", tabular.Fraction, func(f FeatureRating) float64 { return f.AUC }))
	return []tabular.Table{figures, classes, features}
}

// estimates makes a column of estimates.
func estimates[T any](name string, of func(T) Estimate) tabular.Field[T] {
	return tabular.Intervals(name, tabular.Fraction, func(v T) (value, low, high Ratio) {
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
	return r.tables()[1].Write(w, format)
}
