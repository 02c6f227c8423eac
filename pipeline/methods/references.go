package methods

import (
	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
)

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
