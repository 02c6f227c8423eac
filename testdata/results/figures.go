package results

import (
	"fmt"
	"slices"
	"strings"
	"text/template"

	"phonocycle/eval"
)

// functions are what templates call. Ratios are printed in percent, with one decimal,
// and as a dash where they are undefined. What a study does not hold is an error.
func functions(all *studies) template.FuncMap {
	return template.FuncMap{
		"study": all.study, "cell": all.cell, "pair": all.pair,
		"score": score, "at": at, "strata": strata, "agreement": agreement,
		"percent": percent, "withInterval": withInterval, "points": points,
		"condition":  condition,
		"tolerances": func(ms ...float64) []float64 { return ms },
	}
}

// cell is a cell of a study with the rules of its column.
type cell struct {
	*eval.StudyCell
	Rules eval.RulesSummary
}

// cell returns a cell of a study.
func (s *studies) cell(name, column, method, condition string) (cell, error) {
	study, err := s.study(name)
	if err != nil {
		return cell{}, err
	}
	c := study.Cell(column, method, condition)
	i := slices.IndexFunc(study.Columns, func(c eval.OverviewColumn) bool { return c.Name == column })
	if c == nil || i < 0 {
		return cell{}, fmt.Errorf("study %s has no scores of %s by %s under %q", name, method, column, condition)
	}
	return cell{c, study.Columns[i].Rules}, nil
}

// pair returns the differences of F1 of two methods on the audio as it is, first minus
// second, as [eval.Compare] gives them.
func (s *studies) pair(name, column, first, second string) (*eval.Pair, error) {
	study, err := s.study(name)
	if err != nil {
		return nil, err
	}
	for _, p := range study.Pairs {
		if p.Column == column && p.Second == first && p.First == second {
			return &p.Pair, nil
		}
	}
	return nil, fmt.Errorf("study %s does not compare %s with %s by %s", name, first, second, column)
}

// points prints the difference of a pair for an average, with its interval.
func points(p *eval.Pair, average string) (string, error) {
	for _, d := range p.Differences {
		if d.Aggregate.String() == average {
			return fmt.Sprintf("%s (%s to %s)", signed(d.Difference), signed(d.Low), signed(d.High)), nil
		}
	}
	return "", fmt.Errorf("%s and %s are not compared by %s", p.First, p.Second, average)
}

// condition names a condition in the head of a table.
func condition(text string) string {
	if text == "" {
		return "as it is"
	}
	return "`" + text + "`"
}

// agreement prints the bias and the SD of a measure of the recordings.
func agreement(c cell, quantity string) (string, error) {
	for _, r := range c.Rates {
		if strings.HasPrefix(r.Quantity, quantity) {
			return fmt.Sprintf("%s ± %.1f", minus(fmt.Sprintf("%.1f", float64(r.Bias))), float64(r.SD)), nil
		}
	}
	return "", fmt.Errorf("cell %s says nothing of %s", c.ID, quantity)
}

// percent prints a fraction in percent.
func percent(r eval.Ratio) string {
	if r.Null() {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(r))
}

// signed prints a difference of fractions in points.
func signed(r eval.Ratio) string { return minus(fmt.Sprintf("%.1f", 100*float64(r))) }

// minus sets the sign of a printed number, which zero has not.
func minus(number string) string {
	if number == "-0.0" {
		return "0.0"
	}
	return strings.Replace(number, "-", "−", 1)
}

// withInterval prints F1 with its interval.
func withInterval(s *eval.Score) string {
	return fmt.Sprintf("%s (%s–%s)", percent(s.F1), percent(s.Low), percent(s.High))
}

// score returns the row of the headline of a class and an average.
func score(c cell, class, average string) (*eval.Score, error) {
	for i := range c.Headline {
		if s := &c.Headline[i]; s.Class.String() == class && s.Aggregate.String() == average {
			return s, nil
		}
	}
	return nil, fmt.Errorf("cell %s has no score of %s, %s", c.ID, class, average)
}

// at returns the pooled score of a class at an anchor and a tolerance.
func at(c cell, class, anchor string, ms float64) (*eval.Score, error) {
	i := slices.Index(c.Rules.TolerancesMS, ms)
	for _, s := range c.Sweep {
		if i >= 0 && s.Class.String() == class && s.Anchor.String() == anchor {
			all := &c.Headline[0]
			return &eval.Score{
				Class: s.Class, Anchor: s.Anchor, ToleranceMS: ms, People: all.People, Recordings: all.Recordings,
				Recall: s.Recall[i], Precision: s.Precision[i], F1: s.F1[i], Low: s.Low[i], High: s.High[i],
			}, nil
		}
	}
	return nil, fmt.Errorf("cell %s has no score of %s at the %s within %g ms", c.ID, class, anchor, ms)
}

// stratum is a row of a table of strata.
type stratum struct {
	Name string
	*eval.Score
}

// strata returns the strata of a cell by the given labels, with their names as a
// document prints them.
func strata(c cell, labels ...string) []stratum {
	var list []stratum
	for _, label := range labels {
		for i := range c.Strata {
			if name, value := c.Strata[i].Label(); name == label {
				list = append(list, stratum{strings.ReplaceAll(name, "_", " ") + ": " + strings.ReplaceAll(value, "_", " "), &c.Strata[i]})
			}
		}
	}
	return list
}
