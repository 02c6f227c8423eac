package methods

import (
	"fmt"

	"phonocycle/pipeline/citation"
)

// BibTeX returns the publications of a method, of a run configuration and its method, or
// of the method and the data sets of a folder of results, as a file of BibTeX.
func BibTeX(name string) (string, error) {
	if !IsResults(name) {
		d, err := Describe(name)
		if err != nil {
			return "", err
		}
		return file(d.entries, name)
	}
	r, err := readResults(name)
	if err != nil {
		return "", err
	}
	var entries []citation.Entry
	switch p := r.plan; {
	case r.method != nil:
		entries = methodEntries(*r.method)
	case p.MethodCitation != "":
		entries = append(entries, citation.Misc(p.Config.Method, p.MethodTitle, p.MethodCitation, ""))
	}
	if c := r.plan.Config; c.Citation != "" {
		entries = append(entries, citation.Misc(c.Title, c.Title, c.Citation, ""))
	}
	for _, s := range r.plan.DataSets {
		entries = append(entries, dataSetEntries(&s)...)
	}
	return file(entries, name)
}

// file writes entries, of which there must be one.
func file(entries []citation.Entry, name string) (string, error) {
	if len(entries) == 0 {
		return "", fmt.Errorf("%s: neither the method nor the data say how to cite them: give the method or the layout a citation", name)
	}
	return citation.Write(entries), nil
}
