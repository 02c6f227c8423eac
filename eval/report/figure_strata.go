package report

import (
	"fmt"
	"slices"
	"strings"

	"phonocycle/eval"
)

// allRow is the row of all recordings, and its text.
func allRow(s *eval.Summary) (intervalRow, string) {
	all := s.HeadlineRow
	return intervalRow{label: fmt.Sprintf("all recordings (%d)", all.People), estimate: all.F1, low: all.Low, high: all.High, style: styleOf(1)},
		fmt.Sprintf("All: %s %%%s.", all.F1.Percent(), inParentheses(all.Low, all.High))
}

// stratumRow is the row of a stratum, and its text.
func stratumRow(r *eval.Score) (intervalRow, string) {
	label, value := r.Label()
	return intervalRow{label: fmt.Sprintf("%s (%d)", shorten(value, 21), r.People), estimate: r.F1, low: r.Low, high: r.High, style: styleOf(0)},
		fmt.Sprintf(" %s %s: %s %%%s, %d people.", strings.ReplaceAll(label, "_", " "), value, r.F1.Percent(), inParentheses(r.Low, r.High), r.People)
}

// stratumGroup is a label with those of its strata that have enough people for a score.
type stratumGroup struct {
	label string
	rows  []eval.Score
}

// strataByLabel returns the strata with a score, by label.
func strataByLabel(s *eval.Summary) []stratumGroup {
	var groups []stratumGroup
	for _, r := range s.Scores.Strata() {
		if r.F1.Null() {
			continue
		}
		label, _ := r.Label()
		if n := len(groups); n == 0 || groups[n-1].label != label {
			groups = append(groups, stratumGroup{label: label})
		}
		last := &groups[len(groups)-1]
		last.rows = append(last.rows, r)
	}
	return groups
}

// chartedStrata returns the labels that divide the recordings: with a score for two
// values at least, which together hold half of the recordings or more. Recordings that
// do not state the label are in none of its rows.
func chartedStrata(s *eval.Summary) []stratumGroup {
	var charted []stratumGroup
	for _, g := range strataByLabel(s) {
		g.rows = slices.DeleteFunc(slices.Clone(g.rows), func(r eval.Score) bool {
			_, value := r.Label()
			return value == eval.NotStated
		})
		stated := 0
		for i := range g.rows {
			stated += g.rows[i].Recordings
		}
		if len(g.rows) >= 2 && 2*stated >= s.HeadlineRow.Recordings {
			charted = append(charted, g)
		}
	}
	return charted
}

// strataChart draws the pooled F1 of the headline for the values of the labels that
// divide the recordings, without room for headings. It is nil where there is none.
func strataChart(s *eval.Summary) *figure {
	row, text := allRow(s)
	rows := []intervalRow{row}
	for _, g := range chartedStrata(s) {
		for i := range g.rows {
			row, words := stratumRow(&g.rows[i])
			if row.first = i == 0; row.first {
				row.label = shorten(strings.ReplaceAll(g.label, "_", " ")+": "+row.label, 28)
			}
			rows, text = append(rows, row), text+words
		}
	}
	if len(rows) == 1 {
		return nil
	}
	f := intervalFigure("strata-chart", "F1 by label", rows)
	f.text = text
	return f
}

// strataFigure draws the pooled F1 of the headline for each stratum with enough
// people. It is nil where there is none.
func strataFigure(s *eval.Summary) *figure {
	row, text := allRow(s)
	rows := []intervalRow{row}
	for _, g := range strataByLabel(s) {
		rows = append(rows, intervalRow{label: strings.ReplaceAll(g.label, "_", " ") + ":", heading: true})
		for i := range g.rows {
			row, words := stratumRow(&g.rows[i])
			rows, text = append(rows, row), text+words
		}
	}
	if len(rows) == 1 {
		return nil
	}
	f := intervalFigure("strata", "F1 by stratum", rows)
	f.text = text
	return f
}
