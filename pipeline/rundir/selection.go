package rundir

import (
	"fmt"
	"slices"
	"strings"
)

// What a list can be of, as its flag is called.
const (
	OfPeople     = "people"
	OfRecordings = "recordings"
)

// Selection is a list of people or recordings by which the recordings of a run were
// selected.
type Selection struct {
	Of     string `json:"of"`
	Name   string `json:"name"`
	Digest string `json:"digest"` // of the sorted ids, whatever their order and the comments in the file
}

func (s Selection) String() string { return fmt.Sprintf("%s (digest %.12s)", s.Name, s.Digest) }

// Selected says in words how many recordings of the plan were selected and by which
// lists; empty for a plan over all recordings.
func (p *Plan) Selected() string { return Selected(p.DataSets, p.Selection) }

// Selected is [Plan.Selected] for data sets.
func Selected(sets []DataSet, by []Selection) string {
	if len(by) == 0 {
		return ""
	}
	selected, listed := 0, 0
	for _, s := range sets {
		selected, listed = selected+s.Recordings, listed+s.Listed
	}
	lists := make([]string, len(by))
	for i, s := range by {
		lists[i] = fmt.Sprintf("%s of the list %v", s.Of, s)
	}
	return fmt.Sprintf("%d of %d recordings selected: %s", selected, listed, strings.Join(lists, ", "))
}

// selectionDifference names the first list in which two selections differ; empty
// where they are the same.
func selectionDifference(was, is []Selection) string {
	for _, of := range []string{OfPeople, OfRecordings} {
		find := func(all []Selection) (list Selection, there bool) {
			i := slices.IndexFunc(all, func(s Selection) bool { return s.Of == of })
			if i < 0 {
				return list, false
			}
			return all[i], true
		}
		a, before := find(was)
		b, now := find(is)
		switch {
		case a == b:
		case !now:
			return fmt.Sprintf("the %s were those of the list %v, and now no list is given with --%s", of, a, of)
		case !before:
			return fmt.Sprintf("no list of %s was given, and now --%s gives the list %v", of, of, b)
		default:
			return fmt.Sprintf("the %s were those of the list %v and are now those of the list %v", of, a, b)
		}
	}
	return ""
}
