package dataset

import (
	"path"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/pcg"
)

// Layout describes a data set; configs/layouts/README.md explains its keys.
type Layout struct {
	Name     string   `yaml:"name"`
	Title    string   `yaml:"title"`
	Version  string   `yaml:"version"`
	Citation string   `yaml:"citation"` // as text; made of the publications where they are given
	DOI      string   `yaml:"doi"`
	Licence  string   `yaml:"licence"`
	Source   string   `yaml:"source"` // where to get the data, and which folder is the data root
	Notes    []string `yaml:"notes"`  // what a user of the data has to know

	Audio      AudioRule        `yaml:"audio"`
	Recording  NameRule         `yaml:"recording"`
	Tables     []TableRule      `yaml:"tables"`
	References []NamedReference `yaml:"references"` // the first is the default

	// Publications are what to cite, in parts.
	Publications []citation.Work `yaml:"publications"`

	// SingleReference is the key of old layouts. It is refused with the words that
	// say how to write it now.
	SingleReference ast.Node `yaml:"reference"`

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
	Channel string      `yaml:"channel"` // description or number of the signal of a WFDB record
}

// Exclusion leaves audio files out and says why.
type Exclusion struct {
	Path   string `yaml:"path"`
	Reason string `yaml:"reason"`
}

// NameRule says how to read the path of an audio file.
type NameRule struct {
	Patterns []string                     `yaml:"patterns"`
	Labels   []string                     `yaml:"labels"`
	Codes    map[string]map[string]string `yaml:"codes"` // of a label, what each text in the path means; others are defects
	Types    map[string]string            `yaml:"types"` // of a label, text, number or any (default)
}

// TableRule describes a delimited table with one row per recording or per
// person.
type TableRule struct {
	Path       string      `yaml:"path"`      // template
	Optional   bool        `yaml:"optional"`  // its absence is no defect
	Only       string      `yaml:"only"`      // pattern of the audio files it belongs to; empty for all
	Delimiter  string      `yaml:"delimiter"` // comma, tab, semicolon or space; by the file's extension if empty
	Header     string      `yaml:"header"`    // present or absent
	Key        string      `yaml:"key"`       // column that is joined to match
	KeyPattern string      `yaml:"key_pattern"`
	Match      string      `yaml:"match"`   // template
	Missing    []string    `yaml:"missing"` // cells that stand for a missing value, besides empty ones
	Person     string      `yaml:"person"`  // columns that replace what the path says; may be absent
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

// NamedReference is one of the references of a data set.
type NamedReference struct {
	Name          string `yaml:"name"` // by which a run chooses it
	ReferenceRule `yaml:",inline"`
}

// ReferenceRule describes how a reference annotation is written. It is either
// one file per recording, found by the path templates (the first that exists
// counts), or, where Key is given, one table for all recordings. A file that ends
// in .mat is a MATLAB file; all others are text.
type ReferenceRule struct {
	Kind       pcg.ReferenceKind `yaml:"kind"` // one of referenceKinds
	Paths      []string          `yaml:"paths"`
	Optional   bool              `yaml:"optional"` // a recording without reference is no defect
	Variable   string            `yaml:"variable"` // of files that end in .mat
	Delimiter  string            `yaml:"delimiter"`
	Header     string            `yaml:"header"` // present, absent or optional
	Key        string            `yaml:"key"`
	KeyPattern string            `yaml:"key_pattern"`
	Match      string            `yaml:"match"`
	Columns    ReferenceColumns  `yaml:"columns"`
	Unit       string            `yaml:"unit"` // seconds or samples
	Base       int               `yaml:"base"` // number of the first sample, 0 or 1
	States     map[string]string `yaml:"states"`
	Signal     string            `yaml:"signal"` // of a WFDB record that is the ECG, by description or number
	Delay      string            `yaml:"delay"`  // from the R wave of the ECG to the middle of S1, as 60ms
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

// role is what a column of an annotation holds.
type role string

const (
	startRole role = "start"
	endRole   role = "end"
	timeRole  role = "time"
	stateRole role = "state"
)

// of returns the name of the column with a role.
func (c *ReferenceColumns) of(r role) string {
	return map[role]string{startRole: c.Start, endRole: c.End, timeRole: c.Time, stateRole: c.State}[r]
}

// labelSource says where a label comes from: a column of a table, or the path
// of the recording if table is nil.
type labelSource struct {
	name   string
	table  *TableRule
	column *LabelRule
}

// isNumber reports whether the source gives numbers alone.
func (s *labelSource) isNumber(l *Layout) bool {
	if s.table == nil {
		return l.Recording.Types[s.name] == labelNumber && l.Recording.Codes[s.name] == nil
	}
	return s.column.Type == labelNumber && s.column.Codes == nil
}

// labels lists the sources of all labels in the order of the layout. A label may
// have several sources.
func (l *Layout) labels() []labelSource {
	var sources []labelSource
	for _, group := range l.Recording.Labels {
		sources = append(sources, labelSource{name: group})
	}
	for i := range l.Tables {
		t := &l.Tables[i]
		for k := range t.Labels {
			sources = append(sources, labelSource{t.Labels[k].Name, t, &t.Labels[k]})
		}
	}
	return sources
}

// columns lists the columns of a table that the layout uses.
func (t *TableRule) columns() []string {
	all := []string{t.Key, t.Person, t.Site, t.Take, t.SamePerson}
	for _, l := range t.Labels {
		all = append(all, l.Column)
	}
	return slices.DeleteFunc(all, func(c string) bool { return c == "" })
}

const (
	headerPresent  = "present"
	headerAbsent   = "absent"
	headerOptional = "optional"

	unitSeconds = "seconds"
	unitSamples = "samples"

	labelText   = "text"
	labelNumber = "number"
	labelAny    = "any"
)

var delimiters = map[string]byte{"comma": ',', "tab": '\t', "semicolon": ';', "space": ' '}

// delimiterOf returns the named delimiter, or the usual one for the file.
func delimiterOf(name, file string) byte {
	if d, ok := delimiters[name]; ok {
		return d
	}
	if strings.EqualFold(path.Ext(file), ".tsv") {
		return '\t'
	}
	return ','
}

// delimiterName is the name of a delimiter in a layout.
func delimiterName(d byte) string {
	for name, of := range delimiters {
		if of == d {
			return name
		}
	}
	return ""
}

func (a *AudioRule) includes(file string) bool {
	return slices.ContainsFunc(a.Include, func(p string) bool { return matchPattern(p, file) })
}

// exclusion returns the index of the exclusion that matches a file, or −1.
func (a *AudioRule) exclusion(file string) int {
	return slices.IndexFunc(a.Exclude, func(e Exclusion) bool { return matchPattern(e.Path, file) })
}
