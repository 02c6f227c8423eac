package corpus

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/yamlcheck"
)

// commonLabel is a label that is made of labels of the data sets.
type commonLabel struct {
	config.CommonLabel
	bySet map[*dataset.Set]*config.LabelSource
}

// AddLabels adds labels that are made of those of the data sets. Every data set, label
// and value that they name must be there, and every value must have its code.
func (c *Corpus) AddLabels(labels []config.CommonLabel) error {
	columns := c.LabelColumns()
	for _, l := range labels {
		if i := slices.IndexFunc(columns, func(c table.Column) bool { return c.Name == l.Name }); i >= 0 {
			return fmt.Errorf("common label %s: a data set has a label of this name (%s): choose another name", l.Name, columns[i].Doc)
		}
		common := commonLabel{l, map[*dataset.Set]*config.LabelSource{}}
		for i := range l.From {
			set, err := c.source(&l.From[i])
			if err != nil {
				return fmt.Errorf("common label %s: %w", l.Name, err)
			}
			common.bySet[set] = &l.From[i]
		}
		c.common = append(c.common, common)
	}
	return nil
}

// source returns the data set of a source, after checking that it has the label and
// that all values have a code.
func (c *Corpus) source(s *config.LabelSource) (*dataset.Set, error) {
	at := slices.IndexFunc(c.Sets, func(set *dataset.Set) bool { return set.Layout.Name == s.DataSet })
	if at < 0 {
		var names []string
		for _, set := range c.Sets {
			names = append(names, set.Layout.Name)
		}
		return nil, fmt.Errorf("no data set %q in this run: there are %s", s.DataSet, strings.Join(names, ", "))
	}
	set := c.Sets[at]
	known, unmapped := map[string]bool{}, map[string]bool{}
	for i := range set.Recordings {
		for l := range set.Recordings[i].Labels.All() {
			known[l.Name] = true
			if _, ok := s.Codes[l.Value]; l.Name == s.Label && l.Value != "" && s.Codes != nil && !ok {
				unmapped[l.Value] = true
			}
		}
	}
	names := slices.Sorted(maps.Keys(known))
	switch near := yamlcheck.Nearest(s.Label, names); {
	case len(set.Recordings) == 0 || known[s.Label] && len(unmapped) == 0:
		return set, nil
	case known[s.Label]:
		const most = 8
		values := slices.Sorted(maps.Keys(unmapped))
		for i := range values {
			values[i] = strconv.Quote(values[i])
		}
		return nil, fmt.Errorf("codes of %s in %s lack %s: write what each means, or \"\" for nothing", s.Label, s.DataSet, strings.Join(values[:min(most, len(values))], ", "))
	case near != "":
		return nil, fmt.Errorf("data set %s has no label %q: did you mean %s?", s.DataSet, s.Label, near)
	}
	return nil, fmt.Errorf("data set %s has no label %q: there are %s", s.DataSet, s.Label, strings.Join(names, ", "))
}

// value returns the label of an entry.
func (l *commonLabel) value(e *Entry) string {
	s, ok := l.bySet[e.Set]
	if !ok {
		return ""
	}
	value := e.Recording.Label(s.Label)
	if s.Codes != nil {
		return s.Codes[value]
	}
	return value
}

// doc says what the label is made of, for the metadata of a column.
func (l *commonLabel) doc() string {
	var from []string
	for _, s := range l.From {
		text := fmt.Sprintf("%s of %s", s.Label, s.DataSet)
		if s.Codes != nil {
			var codes []string
			for _, value := range slices.Sorted(maps.Keys(s.Codes)) {
				codes = append(codes, fmt.Sprintf("%s is %s", value, strconv.Quote(s.Codes[value])))
			}
			text += " (" + strings.Join(codes, ", ") + ")"
		}
		from = append(from, text)
	}
	return "common label of the run configuration: " + strings.Join(from, "; ")
}

// LabelColumns returns a column for each label of the data sets, in the order of
// their first appearance, and one for each common label. A label holds numbers
// where all layouts that have it say so.
func (c *Corpus) LabelColumns() []table.Column {
	var columns []table.Column
	seen := map[string]bool{}
	for i := range c.Entries {
		e := &c.Entries[i]
		for l := range e.Recording.Labels.All() {
			if !seen[l.Name] {
				seen[l.Name] = true
				columns = append(columns, table.Column{Name: l.Name, Kind: table.Category, Number: c.isNumber(l.Name), Doc: e.Set.Layout.LabelDoc(l.Name)})
			}
		}
	}
	for i := range c.common {
		columns = append(columns, table.Column{Name: c.common[i].Name, Kind: table.Category, Doc: c.common[i].doc()})
	}
	return columns
}

// isNumber reports whether all layouts that have a label call it a number.
func (c *Corpus) isNumber(label string) bool {
	return !slices.ContainsFunc(c.Sets, func(s *dataset.Set) bool { return s.Layout.HasLabel(label) && !s.Layout.IsNumber(label) })
}

// Labels returns the values of the columns of an entry.
func (c *Corpus) Labels(e *Entry, columns []table.Column) []string {
	values := make([]string, len(columns))
	first := len(columns) - len(c.common)
	for i, column := range columns {
		if i >= first {
			values[i] = c.common[i-first].value(e)
			continue
		}
		values[i] = e.Recording.Label(column.Name)
		if x, err := strconv.ParseFloat(values[i], 64); err == nil && column.Number {
			values[i] = table.NumberText(x) // as it is read back
		}
	}
	return values
}

// IsRecordingLabel reports whether a label belongs to a recording in some data
// set, so that the recordings of one person may differ in it.
func (c *Corpus) IsRecordingLabel(name string) bool {
	if i := slices.IndexFunc(c.common, func(l commonLabel) bool { return l.Name == name }); i >= 0 {
		for set, source := range c.common[i].bySet {
			if set.Layout.IsRecordingLabel(source.Label) {
				return true
			}
		}
		return false
	}
	return slices.ContainsFunc(c.Sets, func(s *dataset.Set) bool { return s.Layout.IsRecordingLabel(name) })
}
