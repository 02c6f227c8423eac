package compare

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"phonocycle/eval"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Identifiability reads the recordings tables of output folders and reports how
// well their data sets, or other groups, can be identified from the features; see
// [eval.Identify].
func Identifiability(ctx context.Context, dirs []string, o eval.IdentifiabilityOptions, p workers.Progress) (*eval.Identifiability, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	m, err := readFeatures(dirs, o.By)
	if err != nil {
		return nil, err
	}
	p = workers.OrSilent(p)
	p.Start("identifiability", o.Folds)
	defer p.Done()
	return eval.Identify(ctx, m, o, func() { p.Step(1) })
}

// readFeatures reads the features of all recordings in folders with the same
// features.
func readFeatures(dirs []string, by eval.Grouping) (*eval.FeatureMatrix, error) {
	if len(dirs) == 0 {
		return nil, errors.New("no tables: name the folder that run or extract wrote with --tables")
	}
	m := &eval.FeatureMatrix{}
	for i, dir := range dirs {
		r, err := table.OpenParts[table.Recording](table.PartsOf[table.Recording](dir))
		if err != nil {
			return nil, err
		}
		names, labels := floatNames(r.Columns()), scoring.LabelNames(r.Columns())
		if err := by.Check(labels); err != nil {
			return nil, fmt.Errorf("%s: %w", dir, err)
		}
		if i == 0 {
			m.Names = names
		} else if !slices.Equal(names, m.Names) {
			return nil, fmt.Errorf("%s has other features than %s: extract both with one version", dir, dirs[0])
		}
		for record, err := range r.Rows() {
			if err != nil {
				return nil, err
			}
			row := &record.Row
			group := by.Of(func(name string) string { return propertyOf(row, labels, record.Values.Labels, name) })
			if row.Outcome != table.Done || group == "" {
				m.LeftOut++
				continue
			}
			m.Rows = append(m.Rows, eval.FeatureVector{Group: group, Person: row.DataSet + "/" + row.Person, Values: slices.Clone(record.Values.Floats)})
		}
	}
	if len(m.Names) == 0 {
		return nil, fmt.Errorf("%s has no features: name a folder that run or extract wrote", dirs[0])
	}
	return m, nil
}

// propertyOf returns the value of a property by which recordings are grouped.
func propertyOf(row *table.Recording, names, values []string, property string) string {
	switch property {
	case eval.ByDataSet:
		return row.DataSet
	case eval.ByPerson:
		return row.Person
	case eval.BySite:
		return row.Site
	case eval.ByHeartRate: // of the method: that of the reference is not in the table
		if math.IsNaN(row.HeartRate) {
			return ""
		}
		return eval.HeartRateBand(eval.Ratio(row.HeartRate))
	case eval.ByReference:
		return row.ReferenceKind
	}
	return values[slices.Index(names, property)]
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
