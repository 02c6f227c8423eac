package yamlcheck

import (
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"slices"
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

// maxErrors is how many errors of a file are listed.
const maxErrors = 20

// Errors returns all that is wrong with the document as one error, nil if nothing
// is: what Decode found, and what the program found in the values. It has a line
// for each, sorted by place, which begins with name, line and column. What is
// wrong only because a value could not be decoded is left out.
func (d *Document) Errors(found []*KeyError) error {
	all := slices.Clone(d.problems)
	for _, e := range found {
		if !d.follows(e) {
			all = append(all, e)
		}
	}
	for _, e := range all {
		if e.token == nil {
			e.token = &token.Token{}
			p := d.position(e.Key)
			e.token.Position = &p
		}
	}
	slices.SortStableFunc(all, func(a, b *KeyError) int {
		p, q := a.token.Position, b.token.Position
		return cmp.Or(cmp.Compare(p.Line, q.Line), cmp.Compare(p.Column, q.Column))
	})
	var lines []error
	for i, e := range all {
		if i == maxErrors {
			lines = append(lines, fmt.Errorf("%s: and %d more errors: correct these first", d.name, len(all)-i))
			break
		}
		lines = append(lines, fmt.Errorf("%s: %w", d.at(*e.token.Position), e))
	}
	return errors.Join(lines...)
}

// follows reports whether an error in a value may be there only because another
// value could not be decoded.
func (d *Document) follows(e *KeyError) bool {
	return slices.ContainsFunc(d.problems, func(p *KeyError) bool {
		if slices.ContainsFunc(e.Depends, func(key string) bool { return within(p.Key, key) || p.mayBe(key) }) {
			return true
		}
		if p.unknown != "" {
			return d.find(e.Key) == nil && p.mayBe(e.Key)
		}
		return within(e.Key, p.Key)
	})
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
