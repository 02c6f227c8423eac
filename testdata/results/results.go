// Package results keeps the figures that README.md and the model cards quote equal to
// those of the published studies.
//
// A block of a document stands between two comments:
//
//	<!-- results: methods -->
//	…
//	<!-- end of results -->
//
// It is what the template blocks/methods.md gives for the studies beside this file
// (readme.json and others, as "phonocycle study" wrote them). A document holds the
// figures of a block nowhere else, so that nobody has to type them.
package results

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"text/template"

	"phonocycle/eval"
)

// Files holds the studies and the templates of the blocks.
//
//go:embed *.json blocks/*.md
var Files embed.FS

// Documents are the files with blocks, from the root of the project.
var Documents = []string{
	"README.md",
	"configs/models/conv-hsmm.md", "configs/models/duration-hmm.md", "configs/models/logistic-hsmm.md", "configs/models/springer-2016.md",
}

// block matches a block with its marks; the first group is its name and argument.
var block = regexp.MustCompile(`(?s)<!-- results: ([a-z0-9 -]+) -->\n.*?<!-- end of results -->`)

// Fill returns a document with all its blocks made from the studies and templates in
// files.
func Fill(document []byte, files fs.FS) ([]byte, error) {
	templates, err := template.New("").Funcs(functions(&studies{files: files, read: map[string]*eval.Study{}})).ParseFS(files, "blocks/*.md")
	if err != nil {
		return nil, fmt.Errorf("templates of results: %w", err)
	}
	var failed error
	filled := block.ReplaceAllFunc(document, func(old []byte) []byte {
		heading := string(block.FindSubmatch(old)[1])
		name, argument, _ := strings.Cut(heading, " ")
		var b bytes.Buffer
		fmt.Fprintf(&b, "<!-- results: %s -->\n", heading)
		if err := templates.ExecuteTemplate(&b, name+".md", argument); err != nil && failed == nil {
			failed = fmt.Errorf("block %s: %w", heading, err)
		}
		return append(b.Bytes(), "<!-- end of results -->"...)
	})
	return filled, failed
}

// studies reads each study once.
type studies struct {
	files fs.FS
	read  map[string]*eval.Study
}

func (s *studies) study(name string) (*eval.Study, error) {
	if s.read[name] == nil {
		content, err := fs.ReadFile(s.files, name+".json")
		if err != nil {
			return nil, err
		}
		s.read[name] = new(eval.Study)
		if err := json.Unmarshal(content, s.read[name]); err != nil {
			return nil, fmt.Errorf("%s.json: %w", name, err)
		}
	}
	return s.read[name], nil
}
