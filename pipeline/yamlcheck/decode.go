package yamlcheck

import (
	"errors"
	"fmt"
	"reflect"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Document is a YAML file that was read. It knows where each key stands, and
// what is wrong with the file.
type Document struct {
	name     string
	file     *ast.File
	problems []*KeyError
}

// Decode parses text as [Parse] does and decodes it into out, a pointer to a
// struct. All unknown keys and all values of a wrong type become one error, with
// a line for each that begins with name, line and column. Where only that is
// wrong there is a document still, and out holds all other values.
func Decode(name string, text []byte, maxBytes int, out any) (*Document, error) {
	file, err := Parse(name, text, maxBytes)
	if err != nil {
		return nil, err
	}
	var d decoder
	d.decode("$", file.Docs[0].Body, reflect.ValueOf(out).Elem())
	doc := &Document{name, file, d.problems}
	return doc, doc.Errors(nil)
}

// DecodeNode decodes a part of a document into out, a pointer to a struct whose
// values stay where the part has none. Errors are those of Decode, with what and
// the key instead of the place.
func DecodeNode(what string, node ast.Node, out any) error {
	var d decoder
	d.decode("$", node, reflect.ValueOf(out).Elem())
	var lines []error
	for _, p := range d.problems {
		lines = append(lines, fmt.Errorf("%s: %w", what, p))
	}
	return errors.Join(lines...)
}

// Place returns name, line and column of the value of a key, such as
// $.tables[0].path. A key that is missing has the place of its parent.
func (d *Document) Place(key string) string { return d.at(d.position(key)) }

func (d *Document) at(p token.Position) string {
	return fmt.Sprintf("%s:%d:%d", d.name, p.Line, p.Column)
}

func (d *Document) position(key string) token.Position {
	for key != "$" {
		if node := d.find(key); node != nil {
			return *firstToken(node).Position
		}
		key = parent(key)
	}
	return token.Position{Line: 1, Column: 1}
}

// find returns the value of a key, or nil.
func (d *Document) find(key string) ast.Node {
	p, err := yaml.PathString(key)
	if err != nil {
		return nil
	}
	node, err := p.FilterFile(d.file)
	if err != nil {
		return nil
	}
	return node
}

// parent returns the key that holds a key.
func parent(key string) string {
	if cut := strings.LastIndexAny(key, ".["); cut > 0 {
		return key[:cut]
	}
	return "$"
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
