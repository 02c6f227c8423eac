package study

import (
	"cmp"
	"fmt"
	"path"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/synth/degrade"
)

// Clean is the name of the condition that changes nothing.
const Clean = "clean"

// File is a study as its author wrote it. The package comment explains the keys.
type File struct {
	Title         string         `yaml:"title"`
	DataSets      []DataSet      `yaml:"data-sets"`
	Methods       []Method       `yaml:"methods"`
	Conditions    []string       `yaml:"conditions"`
	ConditionSeed uint64         `yaml:"condition-seed"`
	Designs       []Design       `yaml:"designs"`
	Scoring       config.Scoring `yaml:"scoring"`

	digest string // of its text
	folder string // in which relative paths begin; empty for a built-in study
}

// DataSet is a data set with what is read of it.
type DataSet struct {
	Name        string `yaml:"name"`
	Folder      string `yaml:"folder"`
	Layout      string `yaml:"layout"`
	Reference   string `yaml:"reference"`
	People      string `yaml:"people"`
	Recordings  string `yaml:"recordings"`
	FollowLinks bool   `yaml:"follow-links"`
}

// Method is a method with its options.
type Method struct {
	Name    string   `yaml:"name"`
	Method  string   `yaml:"method"` // built-in, or the file of a program
	Config  string   `yaml:"config"` // run configuration in its place
	Model   string   `yaml:"model"`
	Options ast.Node `yaml:"options"`
	Fit     ast.Node `yaml:"fit"`
}

// Design says where models come from and what is scored. It is a column of the tables.
type Design struct {
	Name          string         `yaml:"name"`
	CrossValidate string         `yaml:"cross-validate"` // a data set
	FitOn         string         `yaml:"fit-on"`         // a data set
	Model         string         `yaml:"model"`          // builtin
	ScoreOn       string         `yaml:"score-on"`       // a data set
	Reference     string         `yaml:"reference"`      // to score against, if not that of the data set
	Folds         *int           `yaml:"folds"`
	FoldSeed      *uint64        `yaml:"fold-seed"`
	Overlap       config.Overlap `yaml:"training-overlap"`
	Methods       []string       `yaml:"methods"`    // only these
	Conditions    []string       `yaml:"conditions"` // only these
}

// path returns a path of the file as seen from the current folder.
func (f *File) path(name string) string {
	if name == "" || filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(f.folder, name)
}

// named returns what a key names that takes a name or a file.
func (f *File) named(nameOrFile string) string {
	if config.IsFile(nameOrFile) {
		return f.path(nameOrFile)
	}
	return nameOrFile
}

// Inputs returns the folders of all data sets, which lie below the folder data or,
// where that is empty, below that of the file.
func (f *File) Inputs(data string) []config.Input {
	var inputs []config.Input
	for i := range f.DataSets {
		inputs = append(inputs, f.input(&f.DataSets[i], data))
	}
	return inputs
}

func (f *File) input(s *DataSet, data string) config.Input {
	folder := f.path(s.Folder)
	if data != "" && !filepath.IsAbs(s.Folder) {
		folder = filepath.Join(data, s.Folder)
	}
	return config.Input{Data: folder, Layout: f.layout(s), FollowLinks: s.FollowLinks}
}

// layout returns the name or the file of the layout of a data set.
func (f *File) layout(s *DataSet) string {
	if isLayoutFile(s.Layout) {
		return f.path(s.Layout)
	}
	return s.Layout
}

func isLayoutFile(name string) bool {
	ext := strings.ToLower(path.Ext(name))
	return ext == ".yaml" || ext == ".yml"
}

// dataSet returns the data set of a name, nil if there is none.
func (f *File) dataSet(name string) *DataSet {
	for i := range f.DataSets {
		if f.DataSets[i].Name == name {
			return &f.DataSets[i]
		}
	}
	return nil
}

// canonical returns a condition in its one form: empty for clean audio.
func canonical(condition string) (string, error) {
	if strings.TrimSpace(condition) == Clean {
		return "", nil
	}
	c, err := degrade.Parse(condition)
	if err == nil && c.Empty() {
		err = fmt.Errorf("an empty condition: write %s for the audio as it is", Clean)
	}
	return c.String(), err
}

// conditionName is the inverse of canonical.
func conditionName(canonical string) string {
	if canonical == "" {
		return Clean
	}
	return canonical
}

// scored returns the name of the data set that a design scores.
func (d *Design) scored() string { return cmp.Or(d.ScoreOn, d.CrossValidate) }

// scoring returns the rules of the study as a run takes them.
func (f *File) scoring() config.Scoring {
	s := f.Scoring
	s.Resamples = cmp.Or(s.Resamples, config.Default().Scoring.Resamples)
	return s
}
