package config

import (
	"fmt"
	"regexp"
)

// CommonLabel is a label that a run makes of labels of its data sets, which name
// the same thing in different words. Data sets that it does not name have no value
// of it.
type CommonLabel struct {
	Name string        `yaml:"name" json:"name"` // of the column
	From []LabelSource `yaml:"from" json:"from"`
}

// LabelSource is the label of a data set that becomes a common one.
type LabelSource struct {
	DataSet string            `yaml:"data-set" json:"data_set"`
	Label   string            `yaml:"label" json:"label"`
	Codes   map[string]string `yaml:"codes" json:"codes,omitempty"` // what each value means, "" for nothing; without codes values stay
}

var columnName = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

// checkLabels refuses common labels that cannot be made from any data.
func (c *Config) checkLabels() error {
	named := map[string]bool{}
	for i, l := range c.Labels {
		at := fmt.Sprintf("labels[%d]", i)
		switch {
		case !columnName.MatchString(l.Name):
			return fmt.Errorf("%s.name is %q: use lower-case letters, digits and _, such as abnormal", at, l.Name)
		case named[l.Name]:
			return fmt.Errorf("%s.name is %q, which another common label has", at, l.Name)
		case len(l.From) == 0:
			return fmt.Errorf("%s (%s): from is missing: which labels of which data sets is it made of?", at, l.Name)
		}
		named[l.Name] = true
		from := map[string]bool{}
		for k, s := range l.From {
			switch {
			case s.DataSet == "" || s.Label == "":
				return fmt.Errorf("%s.from[%d]: give data-set and label", at, k)
			case from[s.DataSet]:
				return fmt.Errorf("%s.from[%d]: data set %s is named twice", at, k, s.DataSet)
			}
			from[s.DataSet] = true
		}
	}
	return nil
}
