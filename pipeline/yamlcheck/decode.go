package yamlcheck

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

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

// located turns an error of the YAML package, which quotes several lines of the
// file and names types of Go, into one plain line with its place. Keys are those
// that the file may hold.
func located(name string, err error, keys []string) error {
	var y yaml.Error
	if !errors.As(err, &y) || y.GetToken() == nil || y.GetToken().Position == nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	at := y.GetToken().Position
	return fmt.Errorf("%s:%d:%d: %s", name, at.Line, at.Column, plain(y, keys))
}

func plain(err yaml.Error, keys []string) string {
	switch e := err.(type) {
	case *yaml.UnknownFieldError:
		if near := Nearest(e.Token.Value, keys); near != "" {
			return fmt.Sprintf("unknown key %q: did you mean %q?", e.Token.Value, near)
		}
		return fmt.Sprintf("unknown key %q: remove it or correct its name", e.Token.Value)
	case *yaml.TypeError:
		return fmt.Sprintf("%q: want %s", e.Token.Value, wanted(e.DstType))
	case *yaml.OverflowError:
		return fmt.Sprintf("%q: the number is too large", e.Token.Value)
	case *yaml.UnexpectedNodeTypeError:
		return fmt.Sprintf("%s where %s belongs", e.Actual.YAMLName(), e.Expected.YAMLName())
	}
	return err.GetMessage()
}

// wanted describes the values of a type to someone who writes YAML.
func wanted(t reflect.Type) string {
	if t == reflect.TypeFor[time.Duration]() {
		return "a duration with its unit, such as 15s"
	}
	switch t.Kind() {
	case reflect.Pointer:
		return wanted(t.Elem())
	case reflect.Bool:
		return "true or false"
	case reflect.Float32, reflect.Float64:
		return "a number"
	case reflect.String:
		return "text"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Map, reflect.Struct:
		return "keys with values"
	}
	return "a whole number"
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
