// Package yamlcheck refuses YAML that a reader of configurations should not
// decode.
//
// YAML has more than configurations need, and each of it has been used against
// programs that read what others wrote: anchors, of which a few lines unfold
// into gigabytes; nesting that exhausts the stack of a parser that recurses; tags
// that ask for types. None of it is allowed, and text is bounded in size and
// must be UTF-8.
package yamlcheck

import (
	"errors"
	"fmt"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// maxDepth bounds how deep a text may nest; the files of this project nest five
// deep.
const maxDepth = 16

// Parse parses text of at most so many bytes that holds one YAML document.
// Errors begin with name and, where there is one, the line.
func Parse(name string, text []byte, most int) (*ast.File, error) {
	if len(text) > most {
		return nil, fmt.Errorf("%s: longer than %d KiB: is this the right file?", name, most>>10)
	}
	if !utf8.Valid(text) {
		return nil, fmt.Errorf("%s: not UTF-8 text: save it as UTF-8", name)
	}
	if line := tooDeep(text); line > 0 {
		return nil, fmt.Errorf("%s:%d: nested deeper than %d levels", name, line, maxDepth)
	}
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, Place(name, err, "")
	}
	if len(file.Docs) != 1 || file.Docs[0].Body == nil {
		return nil, fmt.Errorf("%s: holds %d documents, want one that is not empty", name, countBodies(file))
	}
	var walk structure
	ast.Walk(&walk, file.Docs[0].Body)
	if walk.refused != nil {
		return nil, fmt.Errorf("%s:%d:%d: anchors, aliases and tags are not allowed: write the value out",
			name, walk.refused.Position.Line, walk.refused.Position.Column)
	}
	return file, nil
}

// Place turns an error of the YAML package, which quotes the source over several
// lines, into one line with name, line and column, and with message where it is
// not empty.
func Place(name string, err error, message string) error {
	var y yaml.Error
	if !errors.As(err, &y) || y.GetToken() == nil || y.GetToken().Position == nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if message == "" {
		message = y.GetMessage()
	}
	at := y.GetToken().Position
	return fmt.Errorf("%s:%d:%d: %s", name, at.Line, at.Column, message)
}

func countBodies(file *ast.File) int {
	n := 0
	for _, d := range file.Docs {
		if d.Body != nil {
			n++
		}
	}
	return n
}

// tooDeep returns the first line on which brackets are open, or the text is
// indented, further than a configuration could need; 0 if there is none. It runs
// before the parser, which recurses, and so errs on the side of counting
// brackets within strings.
func tooDeep(text []byte) int {
	line, open, dashes, blank := 1, 0, 0, true
	for _, c := range text {
		switch c {
		case '\n':
			line, open, dashes, blank = line+1, max(open, 0), 0, true
			continue
		case '[', '{':
			open++
		case ']', '}':
			open--
		case '-', '?':
			if blank {
				dashes++
			}
		}
		if c != ' ' && c != '-' && c != '?' {
			blank = false
		}
		if open > maxDepth || dashes > maxDepth {
			return line
		}
	}
	return 0
}

// structure looks for what a configuration must not hold.
type structure struct{ refused *token.Token }

func (s *structure) Visit(n ast.Node) ast.Visitor {
	switch n.Type() {
	case ast.AnchorType, ast.AliasType, ast.MergeKeyType, ast.TagType:
		if s.refused == nil {
			s.refused = n.GetToken()
		}
	}
	return s
}
