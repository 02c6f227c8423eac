// Package yamlcheck reads YAML files that people write: strictly, safely, and
// with errors that say file, line, column and what to change.
//
// YAML has features that configurations do not need and that have been used to
// attack programs: anchors, with which a few lines expand into gigabytes; deep
// nesting, which exhausts the stack of a recursive parser; tags, which ask for
// types. None of them is allowed. Text is limited in size and must be UTF-8, and
// a key that the program does not know is an error.
package yamlcheck

import (
	"errors"
	"fmt"
	"io"
	"os"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// maxDepth bounds how deep a text may nest; the files of this project nest five
// deep.
const maxDepth = 16

// ReadFile reads a file, but of a file longer than maxBytes only the first byte
// more, with which [Parse] refuses it. Errors do not name the file.
func ReadFile(path string, maxBytes int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, errors.Unwrap(err)
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxBytes+1))
}

// Parse parses text of at most maxBytes that holds one YAML document. Errors
// begin with name and, where it is known, the line.
func Parse(name string, text []byte, maxBytes int) (*ast.File, error) {
	if len(text) > maxBytes {
		return nil, fmt.Errorf("%s: longer than %d KiB: is this the right file?", name, maxBytes>>10)
	}
	if !utf8.Valid(text) {
		return nil, fmt.Errorf("%s: not UTF-8 text: save it as UTF-8", name)
	}
	if line := tooDeep(text); line > 0 {
		return nil, fmt.Errorf("%s:%d: nested deeper than %d levels", name, line, maxDepth)
	}
	file, err := parser.ParseBytes(text, 0)
	if err != nil {
		return nil, syntax(name, err)
	}
	documents := 0
	for _, d := range file.Docs {
		if d.Body != nil {
			documents++
		}
	}
	if len(file.Docs) != 1 || documents != 1 {
		return nil, fmt.Errorf("%s: holds %d documents, want one that is not empty", name, documents)
	}
	for _, refused := range []ast.NodeType{ast.AnchorType, ast.AliasType, ast.MergeKeyType, ast.TagType} {
		if found := ast.Filter(refused, file.Docs[0].Body); len(found) > 0 {
			at := found[0].GetToken().Position
			return nil, fmt.Errorf("%s:%d:%d: anchors, aliases and tags are not allowed: write the value out", name, at.Line, at.Column)
		}
	}
	return file, nil
}

// tooDeep returns the first line that nests deeper than maxDepth, or 0. It runs
// before the parser, which is recursive, and does not know strings: brackets
// within them count too.
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
