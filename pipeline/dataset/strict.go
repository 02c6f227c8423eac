package dataset

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"phonocycle/pipeline/yamlcheck"
)

// document is a parsed YAML file that can tell where a key stands.
type document struct {
	name string
	file *ast.File
}

// keyError is an objection to the value of a key, whose place in the file is
// not yet known.
type keyError struct {
	key string // as in $.reference.kind
	err error
}

func (e *keyError) Error() string {
	return strings.TrimPrefix(e.key, "$.") + ": " + e.err.Error()
}

func (e *keyError) Unwrap() error { return e.err }

// decodeStrict decodes one YAML document into out, of which every key must be
// known.
func decodeStrict(name string, text []byte, out any) (*document, error) {
	file, err := yamlcheck.Parse(name, text, maxLayoutSize)
	if err != nil {
		return nil, err
	}
	// Decoding the text again costs microseconds and, unlike decoding the
	// tree, applies the strict options to every level.
	if err := yaml.UnmarshalWithOptions(text, out, yaml.Strict()); err != nil {
		return nil, placeYAML(name, err, knownKeys(reflect.TypeOf(out)))
	}
	return &document{name, file}, nil
}

// placeYAML says where in the file the YAML package met an error, and which key
// was perhaps meant.
func placeYAML(name string, err error, known []string) error {
	message := ""
	var unknown *yaml.UnknownFieldError
	if errors.As(err, &unknown) {
		key := unknown.GetToken().Value
		message = fmt.Sprintf("unknown key %q: ", key)
		if near := nearest(key, known); near != "" {
			message += fmt.Sprintf("did you mean %q?", near)
		} else {
			message += "remove it or correct its name"
		}
	}
	return yamlcheck.Place(name, err, message)
}

// place adds file, line and column to a keyError.
func (d *document) place(err error) error {
	var bad *keyError
	if !errors.As(err, &bad) {
		return fmt.Errorf("%s: %w", d.name, err)
	}
	// A missing key has no place of its own; its parent has.
	for key := bad.key; key != "$"; {
		if p, err := yaml.PathString(key); err == nil {
			if node, err := p.FilterFile(d.file); err == nil && node != nil {
				at := firstToken(node).Position
				return fmt.Errorf("%s:%d:%d: %w", d.name, at.Line, at.Column, bad)
			}
		}
		cut := strings.LastIndexAny(key, ".[")
		if cut <= 0 {
			break
		}
		key = key[:cut]
	}
	return fmt.Errorf("%s:1:1: %w", d.name, bad)
}

// firstToken returns where a node begins; that of a mapping is its first colon.
func firstToken(node ast.Node) *token.Token {
	switch n := node.(type) {
	case *ast.MappingNode:
		if len(n.Values) > 0 {
			return n.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return n.Key.GetToken()
	}
	return node.GetToken()
}

// knownKeys collects the yaml names of a struct type and of what it holds.
func knownKeys(t reflect.Type) []string {
	var keys []string
	var visit func(reflect.Type)
	visit = func(t reflect.Type) {
		switch t.Kind() {
		case reflect.Pointer, reflect.Slice:
			visit(t.Elem())
		case reflect.Struct:
			for i := range t.NumField() {
				name, options, _ := strings.Cut(t.Field(i).Tag.Get("yaml"), ",")
				if options == "inline" {
					visit(t.Field(i).Type)
				}
				if name == "" || name == "-" {
					continue
				}
				keys = append(keys, name)
				visit(t.Field(i).Type)
			}
		}
	}
	visit(t)
	slices.Sort(keys)
	return slices.Compact(keys)
}

// nearest returns the candidate that differs from word by the fewest
// insertions, deletions, substitutions and exchanges of neighbours, or the
// empty string if all differ by more than a third of the word.
func nearest(word string, candidates []string) string {
	if len(word) > 64 {
		return ""
	}
	best, bestCost := "", max(1, (len(word)+1)/3)+1
	for _, c := range candidates {
		if cost := editDistance(strings.ToLower(word), c); cost < bestCost {
			best, bestCost = c, cost
		}
	}
	return best
}

// editDistance counts them, an exchange of two neighbours as one (optimal string
// alignment).
func editDistance(a, b string) int {
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			substitute := d[i-1][j-1]
			if a[i-1] != b[j-1] {
				substitute++
			}
			d[i][j] = min(substitute, d[i-1][j]+1, d[i][j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}
