package eval

import (
	"fmt"
	"strings"

	"phonocycle/eval/tabular"
)

// warnings say what limits the study, each thing once with the cells that it concerns.
// missing names columns and methods without scores of the audio as it is.
func (s *Study) warnings(missing []string) []string {
	list := []string{}
	warn := func(format string, values ...any) { list = append(list, fmt.Sprintf(format, values...)) }
	if n := len(s.Faults); n > 0 {
		warn("%s without scores, of %d; each has its reason below", tabular.Plural(n, "cell", "cells"), n+len(s.Cells))
	}
	for i := range s.Columns {
		if c := &s.Columns[i]; c.People < defaultMinPeople {
			warn("%s has %s: too few to tell methods apart", c.Name, tabular.Plural(c.People, "person", "people"))
		}
	}
	failed := s.concerned(func(c *StudyCell) bool { return c.Counts.Failed > 0 })
	uneven := s.concerned(func(c *StudyCell) bool { return c.Errors.EffectivePeople < leastEffectivePeople })
	unnamed := s.concerned(func(c *StudyCell) bool { return c.Counts.Unnamed > 0 })
	apart := 0
	for i := range s.Losses {
		if s.Losses[i].Effective < leastEffectivePeople {
			apart++
		}
	}
	for _, w := range []struct{ cells, text string }{
		{failed, "recordings without output, in which all sounds count as missed"},
		{uneven, fmt.Sprintf("errors that lie with few people, so that 95 %% intervals are too narrow (effective number of people below %d)", leastEffectivePeople)},
		{unnamed, "recordings whose person is not stated, each counted as another person, so that intervals are too narrow if that is wrong"},
		{strings.Join(missing, "; "), "no losses, since the cell of the audio as it is is missing"},
	} {
		if w.cells != "" {
			warn("%s: %s", w.text, w.cells)
		}
	}
	if apart > 0 {
		warn("%d of %s lie with few people, so that their 95 %% intervals are too narrow", apart, tabular.Plural(len(s.Losses), "loss", "losses"))
	}
	if len(s.Cells) > 0 && s.Resamples < minResamples {
		warn("%s", fewResamplesWarning(s.Resamples))
	}
	return list
}

// concerned names the cells that something is true of, those of a column together
// where they are several.
func (s *Study) concerned(is func(*StudyCell) bool) string {
	var list []string
	for i := range s.Columns {
		in := func(c *StudyCell) bool { return c.Column == s.Columns[i].Name }
		all := filter(s.Cells, in)
		cells := filter(all, is)
		switch {
		case len(cells) == 1:
			list = append(list, cells[0].ID)
		case len(cells) > 1:
			list = append(list, fmt.Sprintf("%d of %d cells of %s", len(cells), len(all), s.Columns[i].Name))
		}
	}
	return strings.Join(list, "; ")
}
