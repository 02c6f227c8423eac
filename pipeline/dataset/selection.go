package dataset

import (
	"slices"
	"strings"

	"phonocycle/pipeline/pcg"
)

// PersonNamed returns the name that recordings have for the person with the given
// id, which is another where a table of the layout says that two ids are of one
// person. It does not tell whether there is such a person. Not for several
// goroutines at once.
func (s *Set) PersonNamed(id string) string { return s.united.name(id) }

// Select keeps those recordings of the set that keep accepts, and their defects.
// What was said about the tables and the folder as a whole stays as it is. It may be
// called once.
func (s *Set) Select(keep func(*pcg.Recording) bool) {
	selected, defects, left := s.Recordings[:0:0], s.Defects[:0:0], map[string]bool{}
	s.PersonUnknown = 0
	for i := range s.Recordings {
		r := &s.Recordings[i]
		if !keep(r) {
			left[r.ID] = true
			continue
		}
		if r.PersonUnknown {
			s.PersonUnknown++
		}
		selected = append(selected, *r)
	}
	for _, d := range s.Defects {
		if !left[d.Recording] {
			defects = append(defects, d)
		}
	}
	s.NotSelected, s.DefectsOfOthers = len(s.Recordings)-len(selected), len(s.Defects)-len(defects)
	s.all, s.Recordings, s.Defects = s.Recordings, selected, defects
}

// Lists reports whether the set has a recording with the given id, selected or not.
func (s *Set) Lists(id string) bool {
	_, found := slices.BinarySearchFunc(s.listed(), id, func(r pcg.Recording, id string) int { return strings.Compare(r.ID, id) })
	return found
}

// listed returns all recordings of the set, selected or not.
func (s *Set) listed() []pcg.Recording {
	if s.all != nil {
		return s.all
	}
	return s.Recordings
}
