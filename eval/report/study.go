package report

import (
	"cmp"
	"fmt"
	"html/template"
	"io"

	"phonocycle/eval"
)

// studyContent is what the template of the page of a study reads.
type studyContent struct {
	*eval.Study
	document
	Tables map[string]template.HTML // by name
}

// WriteStudy writes the page of a study as one HTML file.
func WriteStudy(w io.Writer, s *eval.Study) error {
	content := studyContent{Study: s, document: newDocument(cmp.Or(s.Header.Title, "Study of segmentation methods")), Tables: make(map[string]template.HTML)}
	for _, t := range s.Tables() {
		html, err := tableHTML(&t)
		if err != nil {
			return err
		}
		content.Tables[t.Name] = html
	}
	if err := templates.ExecuteTemplate(w, "study.html", &content); err != nil {
		return fmt.Errorf("study: %w", err)
	}
	return nil
}
