package methods

import (
	"fmt"
	"os"

	"phonocycle/eval"
	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/compare"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
)

// results is a folder of results as far as a paper tells of it.
type results struct {
	plan    *rundir.Plan
	summary *eval.Summary   // nil where nothing was scored
	method  *segment.Method // nil where it is not one of this program
}

// IsResults reports whether a name is that of a folder, which holds results then.
func IsResults(name string) bool {
	info, err := os.Stat(name)
	return err == nil && info.IsDir()
}

func readResults(dir string) (*results, error) {
	folders, err := compare.Open([]string{dir}, nil, "")
	if err != nil {
		return nil, err
	}
	r := &results{plan: folders[0].Plan}
	var s eval.Summary
	scored, err := folders[0].ReadJSON(rundir.SummaryFile, &s)
	if err != nil {
		return nil, err
	}
	if scored {
		r.summary = &s
	}
	if m, err := segment.Lookup(r.plan.Config.Method); err == nil && r.plan.MethodDigest == "" {
		r.method = &m
	}
	return r, nil
}

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

// methodEntries returns the publication of a method.
func methodEntries(m segment.Method) []citation.Entry {
	switch {
	case m.Paper.Title != "":
		return []citation.Entry{m.Paper.BibTeX()}
	case m.Citation != "":
		return []citation.Entry{citation.Misc(m.Name, m.Title, m.Citation, "")}
	}
	return nil
}

// dataSetEntries returns the publications of a data set, and the data set itself where
// it has a DOI of its own.
func dataSetEntries(s *rundir.DataSet) []citation.Entry {
	var entries []citation.Entry
	own := s.DOI != ""
	for _, w := range s.Publications {
		entries = append(entries, w.BibTeX())
		own = own && w.DOI != s.DOI
	}
	switch {
	case len(s.Publications) == 0 && s.Citation != notStated:
		entries = append(entries, citation.Misc(s.Name, s.Title, s.Citation, s.DOI))
	case own:
		entries = append(entries, citation.Misc(s.Name, s.Title, "Version "+s.Version, s.DOI))
	}
	return entries
}

// notStated stands in a layout whose data set has no citation or version.
const notStated = "not stated"
