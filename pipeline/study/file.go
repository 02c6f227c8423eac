package study

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/configs"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/yamlcheck"
)

// Clean is the name of the condition that changes nothing.
const Clean = "clean"

// maxFileBytes bounds a study file; those of ours have a few kilobytes.
const maxFileBytes = 256 << 10

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

// Names returns the names of the built-in studies, sorted.
func Names() []string {
	files, _ := fs.Glob(configs.FS, "studies/*.yaml") // fails for malformed patterns only
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(path.Base(f), ".yaml")
	}
	return names
}

// Load reads a study file, or the built-in study of that name. All that is wrong with
// it becomes one error, with a line for each that begins with file, line and column.
func Load(nameOrFile string) (*File, error) {
	if config.IsFile(nameOrFile) {
		text, err := yamlcheck.ReadFile(nameOrFile, maxFileBytes)
		if err != nil {
			return nil, fmt.Errorf("study file %s: %w", nameOrFile, err)
		}
		return parse(nameOrFile, filepath.Dir(nameOrFile), text)
	}
	text, err := configs.FS.ReadFile("studies/" + nameOrFile + ".yaml")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("no built-in study %q: have %s; a file needs its extension, as in %s.yaml",
			nameOrFile, strings.Join(Names(), ", "), nameOrFile)
	}
	if err != nil {
		return nil, err
	}
	return parse(nameOrFile+".yaml", "", text)
}

// parse reads the text of a study, whose relative paths begin in a folder.
func parse(name, folder string, text []byte) (*File, error) {
	f := &File{
		Scoring: config.Scoring{Anchor: config.Default().Scoring.Anchor, Seed: config.Default().Scoring.Seed}, ConditionSeed: config.Default().ConditionSeed,
		folder: folder, digest: rundir.Digest(text),
	}
	doc, err := yamlcheck.Decode(name, text, maxFileBytes, f)
	if doc == nil {
		return nil, err
	}
	if len(f.Conditions) == 0 {
		f.Conditions = []string{Clean}
	}
	c := checker{file: f}
	c.check()
	if err := doc.Errors(c.errs); err != nil {
		return nil, err
	}
	return f, nil
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
