package dataset

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"phonocycle/configs"
	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/yamlcheck"
)

// maxLayoutSize bounds a layout file; the embedded ones have a few kilobytes.
const maxLayoutSize = 64 << 10

// LayoutNames returns the names of the embedded layouts, sorted.
func LayoutNames() []string {
	files, _ := fs.Glob(configs.FS, "layouts/*.yaml") // fails for malformed patterns only
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = strings.TrimSuffix(path.Base(f), ".yaml")
	}
	return names
}

// LoadLayout returns the embedded layout of that name, or reads a layout file
// if nameOrFile ends in .yaml or .yml. Errors say file, line and column.
func LoadLayout(nameOrFile string) (*Layout, error) {
	if ext := strings.ToLower(path.Ext(nameOrFile)); ext == ".yaml" || ext == ".yml" {
		text, err := yamlcheck.ReadFile(nameOrFile, maxLayoutSize)
		if err != nil {
			return nil, fmt.Errorf("layout %s: %w", nameOrFile, err)
		}
		return ParseLayout(nameOrFile, text)
	}
	names := LayoutNames()
	text, err := fs.ReadFile(configs.FS, "layouts/"+nameOrFile+".yaml")
	if err != nil {
		hint := ""
		if near := yamlcheck.Nearest(nameOrFile, names); near != "" {
			hint = fmt.Sprintf("did you mean %q? ", near)
		}
		return nil, fmt.Errorf("no layout is called %q: %sthere are %s, or give a file that ends in .yaml",
			nameOrFile, hint, strings.Join(names, ", "))
	}
	return ParseLayout(nameOrFile+".yaml", text)
}

// ParseLayout reads a layout from YAML. Unknown keys, missing ones, paths that
// lead out of the data root, patterns that do not compile and groups that nothing
// uses become one error, with a line for each that begins with name, line and
// column.
func ParseLayout(name string, text []byte) (*Layout, error) {
	l := &Layout{Text: text}
	doc, err := yamlcheck.Decode(name, text, maxLayoutSize, l)
	if doc == nil {
		return nil, err
	}
	if l.Citation == "" {
		l.Citation = citation.Text(l.Publications)
	}
	_, c := l.check()
	if err := doc.Errors(c.errs); err != nil {
		return nil, err
	}
	return l, nil
}

// Digest identifies the layout by the text that it was read from.
func (l *Layout) Digest() string {
	return fmt.Sprintf("%x", sha256.Sum256(l.Text))
}

// IsRecordingLabel reports whether a label belongs to a recording, such as the
// position of the stethoscope, and not to its person: it comes from the file's
// path, or from a table that is joined by more than the person.
func (l *Layout) IsRecordingLabel(name string) bool {
	return slices.ContainsFunc(l.labels(), func(s labelSource) bool {
		if s.name != name || s.table == nil {
			return s.name == name
		}
		fields := slices.Compact(placeholder.FindAllString(s.table.Match, -1))
		return !slices.Equal(fields, []string{"{person}"})
	})
}

// LabelNames returns the names of the labels, each once.
func (l *Layout) LabelNames() []string {
	var names []string
	for _, s := range l.labels() {
		if !slices.Contains(names, s.name) {
			names = append(names, s.name)
		}
	}
	return names
}

// HasLabel reports whether the layout names a label.
func (l *Layout) HasLabel(name string) bool {
	return slices.ContainsFunc(l.labels(), func(s labelSource) bool { return s.name == name })
}

// IsNumber reports whether the layout calls all values of a label numbers.
func (l *Layout) IsNumber(name string) bool {
	return l.HasLabel(name) && !slices.ContainsFunc(l.labels(), func(s labelSource) bool { return s.name == name && !s.isNumber(l) })
}

// LabelDoc says where a label comes from, for the metadata of a column.
func (l *Layout) LabelDoc(name string) string {
	for _, s := range l.labels() {
		if s.name == name && s.table != nil {
			return fmt.Sprintf("label of the data set: column %s of %s", s.column.Column, s.table.Path)
		}
	}
	return "label of the data set: part of the file's path"
}
