package yamlcheck

import (
	"bytes"
	"errors"
	"fmt"
	"math"
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
// values stay where the part has none. Errors are those of Decode, with what and
// the key instead of the place. A number with a fraction is an error where out
// wants a whole one.
func DecodeNode(what string, node ast.Node, out any) error {
	err := yaml.NodeToValue(node, out, yaml.Strict())
	var y yaml.Error
	if errors.As(err, &y) && y.GetToken() != nil {
		eachValue("", node, func(key string, value ast.Node) {
			if value.GetToken() == y.GetToken() {
				what += ": " + key
			}
		})
		return fmt.Errorf("%s: %s", what, plain(y, knownKeys(reflect.TypeOf(out))))
	}
	if err == nil {
		err = checkFractions(node, out)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

// checkFractions refuses a number in node whose fraction the YAML package has cut
// off in decoding it into out.
func checkFractions(node ast.Node, out any) error {
	text, err := yaml.Marshal(out)
	eachValue("", node, func(key string, value ast.Node) {
		number, ok := value.(*ast.FloatNode)
		if !ok || number.Value == math.Trunc(number.Value) || err != nil {
			return
		}
		var decoded any
		path, e := yaml.PathString("$." + key)
		if e == nil {
			e = path.Read(bytes.NewReader(text), &decoded)
		}
		if e == nil && decoded != number.Value {
			err = fmt.Errorf("%s: %q: want a whole number", key, number.String())
		}
	})
	return err
}

// eachValue calls do for each value below a node with its key, such as
// timing.s1-s or dilations[2].
func eachValue(key string, node ast.Node, do func(key string, value ast.Node)) {
	switch n := node.(type) {
	case *ast.MappingNode:
		for _, v := range n.Values {
			eachValue(key, v, do)
		}
	case *ast.MappingValueNode:
		inner := strings.TrimPrefix(key+"."+n.Key.String(), ".")
		do(inner, n.Value)
		eachValue(inner, n.Value, do)
	case *ast.SequenceNode:
		for i, v := range n.Values {
			inner := fmt.Sprintf("%s[%d]", key, i)
			do(inner, v)
			eachValue(inner, v, do)
		}
	}
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
