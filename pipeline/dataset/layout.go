package dataset

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"sort"
	"strings"

	"phonocycle/configs"
	"phonocycle/pipeline/pcg"
)

// Layout describes a data set. The package comment explains its keys.
type Layout struct {
	Name     string   `yaml:"name"`
	Title    string   `yaml:"title"`
	Version  string   `yaml:"version"`
	Citation string   `yaml:"citation"`
	DOI      string   `yaml:"doi"`
	Licence  string   `yaml:"licence"`
	Source   string   `yaml:"source"` // where to get the data, and which folder is the data root
	Notes    []string `yaml:"notes"`  // what a user of the data has to know

	Audio     AudioRule     `yaml:"audio"`
	Recording NameRule      `yaml:"recording"`
	Tables    []TableRule   `yaml:"tables"`
	Reference ReferenceRule `yaml:"reference"`

	// Stratify names the labels of which each fold of a cross-validation gets its
	// share of every value.
	Stratify []string `yaml:"stratify"`

	// Text is the layout as it was read, for a digest of the configuration.
	Text []byte `yaml:"-"`
}

// AudioRule says which files below the data root are recordings.
type AudioRule struct {
	Include []string    `yaml:"include"`
	Exclude []Exclusion `yaml:"exclude"`
}

// Exclusion leaves audio files out and says why.
type Exclusion struct {
	Path   string `yaml:"path"`
	Reason string `yaml:"reason"`
}

// NameRule says what the path of an audio file tells of the recording.
type NameRule struct {
	Patterns []string `yaml:"patterns"`
	Labels   []string `yaml:"labels"`
}

// TableRule describes a delimited table that has a row for a recording or for
// a person.
type TableRule struct {
	Path       string      `yaml:"path"`      // template
	Optional   bool        `yaml:"optional"`  // its absence is no defect
	Only       string      `yaml:"only"`      // pattern of the audio files it speaks of; empty for all
	Delimiter  string      `yaml:"delimiter"` // comma, tab, semicolon or space; by the file's extension if empty
	Header     string      `yaml:"header"`    // present or absent
	Key        string      `yaml:"key"`       // column that is joined to match
	KeyPattern string      `yaml:"key_pattern"`
	Match      string      `yaml:"match"`   // template
	Missing    []string    `yaml:"missing"` // cells that say nothing, besides empty ones
	Person     string      `yaml:"person"`  // columns that overrule the recording's name; may be absent
	Site       string      `yaml:"site"`
	Take       string      `yaml:"take"`
	SamePerson string      `yaml:"same_person"` // column with another name of the person that match names
	Labels     []LabelRule `yaml:"labels"`
}

// LabelRule makes a label of a column.
type LabelRule struct {
	Column   string            `yaml:"column"`
	Name     string            `yaml:"name"`
	Type     string            `yaml:"type"`     // text (default), number or any
	Codes    map[string]string `yaml:"codes"`    // what each cell means; others are defects
	Optional bool              `yaml:"optional"` // the column's absence is no defect
}

// ReferenceRule describes how a reference annotation is written. It is either
// a file a recording, found by the path templates (the first that exists
// counts), or, where Key is given, one table for all recordings.
type ReferenceRule struct {
	Kind       pcg.ReferenceKind `yaml:"kind"` // intervals, points or starts; empty if the set has none
	Paths      []string          `yaml:"paths"`
	Optional   bool              `yaml:"optional"` // a recording without reference is no defect
	Delimiter  string            `yaml:"delimiter"`
	Header     string            `yaml:"header"` // present, absent or optional
	Key        string            `yaml:"key"`
	KeyPattern string            `yaml:"key_pattern"`
	Match      string            `yaml:"match"`
	Columns    ReferenceColumns  `yaml:"columns"`
	Unit       string            `yaml:"unit"` // seconds or samples
	Base       int               `yaml:"base"` // number of the first sample, 0 or 1
	States     map[string]string `yaml:"states"`
}

// ReferenceColumns names the columns of a reference. Where a header is
// optional and absent, they are taken to stand in the order start, end, state
// (or time, state; or start, state).
type ReferenceColumns struct {
	Start string `yaml:"start"`
	End   string `yaml:"end"`
	Time  string `yaml:"time"`
	State string `yaml:"state"`
}

// maxLayoutSize bounds a layout file; the largest of ours has a few kilobytes.
const maxLayoutSize = 64 << 10

// LayoutNames returns the names of the embedded layouts, sorted.
func LayoutNames() []string {
	files, err := fs.Glob(configs.FS, "layouts/*.yaml")
	if err != nil {
		panic(err) // the pattern is a constant of ours
	}
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(path.Base(f), ".yaml")
	}
	sort.Strings(names)
	return names
}

// LoadLayout returns the embedded layout of that name, or reads a layout file
// if nameOrFile ends in .yaml or .yml. Errors say file, line and column.
func LoadLayout(nameOrFile string) (*Layout, error) {
	if ext := strings.ToLower(path.Ext(nameOrFile)); ext == ".yaml" || ext == ".yml" {
		text, err := readLayoutFile(nameOrFile)
		if err != nil {
			return nil, fmt.Errorf("layout %s: %w", nameOrFile, err)
		}
		return ParseLayout(nameOrFile, text)
	}
	names := LayoutNames()
	text, err := fs.ReadFile(configs.FS, "layouts/"+nameOrFile+".yaml")
	if err != nil {
		hint := ""
		if near := nearest(nameOrFile, names); near != "" {
			hint = fmt.Sprintf("did you mean %q? ", near)
		}
		return nil, fmt.Errorf("no layout is called %q: %sthere are %s, or give a file that ends in .yaml",
			nameOrFile, hint, strings.Join(names, ", "))
	}
	return ParseLayout(nameOrFile+".yaml", text)
}

func readLayoutFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		var pathErr *fs.PathError
		if errors.As(err, &pathErr) {
			err = pathErr.Err
		}
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxLayoutSize+1))
}

// ParseLayout reads a layout from YAML. An unknown key, a missing one, a path
// that leads out of the data root or a pattern that does not compile is an
// error that begins with name, line and column.
func ParseLayout(name string, text []byte) (*Layout, error) {
	l := &Layout{Text: bytes.Clone(text)}
	doc, err := decodeStrict(name, text, l)
	if err != nil {
		return nil, err
	}
	if _, err := l.compile(); err != nil {
		return nil, doc.place(err)
	}
	return l, nil
}
