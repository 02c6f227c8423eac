package eval

import (
	"fmt"
	"strings"

	"phonocycle/eval/tabular"
)

// warn says what limits the study, each thing once with the cells that it concerns.
func (b *studyBuilder) warn() {
	warn := func(format string, values ...any) { b.Warnings = append(b.Warnings, fmt.Sprintf(format, values...)) }
	if n := len(b.Faults); n > 0 {
		warn("%s without scores, of %d; each has its reason below", tabular.Plural(n, "cell", "cells"), n+len(b.Cells))
	}
	for i := range b.Columns {
		if c := &b.Columns[i]; c.People < defaultMinPeople {
			warn("%s has %s: too few to tell methods apart", c.Name, tabular.Plural(c.People, "person", "people"))
		}
	}
	var failed, uneven, apart, unnamed []string
	for i := range b.Cells {
		c := &b.Cells[i]
		if c.Counts.Failed > 0 {
			failed = append(failed, fmt.Sprintf("%s (%d of %d)", c.ID, c.Counts.Failed, c.Counts.Scored+c.Counts.Failed))
		}
		if n := c.Errors.EffectivePeople; n < leastEffectivePeople {
			uneven = append(uneven, fmt.Sprintf("%s (%.1f)", c.ID, n))
		}
		if c.Counts.Unnamed > 0 {
			unnamed = append(unnamed, c.ID)
		}
	}
	for i := range b.Losses {
		if l := &b.Losses[i]; l.Effective < leastEffectivePeople {
			apart = append(apart, fmt.Sprintf("%s, %s, %s (%.1f)", l.Column, l.Method, l.Condition, l.Effective))
		}
	}
	for _, w := range []struct {
		cells []string
		text  string
	}{
		{failed, "recordings without output, in which all sounds count as missed"},
		{uneven, fmt.Sprintf("errors that lie with few people, so that 95 %% intervals are too narrow (effective number of people below %d)", leastEffectivePeople)},
		{apart, fmt.Sprintf("losses that lie with few people, so that 95 %% intervals are too narrow (effective number of people below %d)", leastEffectivePeople)},
		{unnamed, "recordings whose person is not stated, each counted as another person, so that intervals are too narrow if that is wrong"},
		{b.missing, "no losses, since the cell of the audio as it is is missing"},
	} {
		if len(w.cells) > 0 {
			warn("%s: %s", w.text, strings.Join(w.cells, "; "))
		}
	}
	if len(b.Cells) > 0 && b.scores.Resamples < minResamples {
		warn("%s", fewResamplesWarning(b.scores.Resamples))
	}
}
