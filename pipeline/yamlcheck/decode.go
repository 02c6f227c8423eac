package yamlcheck

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Document is a YAML file that was read. It knows where each key stands.
type Document struct {
	name string
	file *ast.File
}

// Decode parses text as [Parse] does and decodes it into out, a pointer to a
// struct. An unknown key, or a value of the wrong type, is an error of one line
// that begins with name, line and column.
func Decode(name string, text []byte, maxBytes int, out any) (*Document, error) {
	file, err := Parse(name, text, maxBytes)
	if err != nil {
		return nil, err
	}
	// Decoding the text a second time costs little. Decoding the tree would apply
	// the strict option to the top level only.
	if err := yaml.UnmarshalWithOptions(text, out, yaml.Strict()); err != nil {
		return nil, located(name, err, knownKeys(reflect.TypeOf(out)))
	}
	return &Document{name, file}, nil
}

// DecodeNode decodes a part of a document into out, a pointer to a struct whose
// values stay where the part has none. Errors are those of Decode, with what
// instead of the place.
func DecodeNode(what string, node ast.Node, out any) error {
	err := yaml.NodeToValue(node, out, yaml.Strict())
	var y yaml.Error
	if errors.As(err, &y) && y.GetToken() != nil {
		return fmt.Errorf("%s: %s", what, plain(y, knownKeys(reflect.TypeOf(out))))
	}
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

// Place returns name, line and column of the value of a key, such as
// $.tables[0].path. A key that is missing has the place of its parent.
func (d *Document) Place(key string) string {
	for key != "$" {
		if p, err := yaml.PathString(key); err == nil {
			if node, err := p.FilterFile(d.file); err == nil && node != nil {
				at := firstToken(node).Position
				return fmt.Sprintf("%s:%d:%d", d.name, at.Line, at.Column)
			}
		}
		cut := strings.LastIndexAny(key, ".[")
		if cut <= 0 {
			break
		}
		key = key[:cut]
	}
	return d.name + ":1:1"
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

// knownKeys collects the YAML names of a struct type and of all that it holds.
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
