package eval

import (
	"cmp"
	"fmt"
	"slices"

	"phonocycle/eval/tabular"
)

// Run is the accumulated results of one method.
type Run struct {
	Name    string
	Results *Accumulator

	// What tables state beside the scores, as far as it is known.
	DataSet    string // name
	Version    string // of the data set
	Provenance Provenance
	Cost       float64 // processor seconds that segmenting an hour of audio takes; 0 if it is not known
}

// Comparison says how runs on the same recordings differ, and which of the
// differences the data support.
type Comparison struct {
	Runs       []ComparedRun `json:"runs"`
	Against    string        `json:"against,omitempty"` // run with which all others are compared; else each pair is
	Rules      RulesSummary  `json:"rules"`
	People     int           `json:"people"`
	Recordings int           `json:"recordings"` // in the scores
	Resamples  int           `json:"resamples"`  // for the differences

	// ScoreResamples is the number of resamples for the intervals of scores.
	ScoreResamples int        `json:"score_resamples"`
	Seed           uint64     `json:"seed"`
	Confidence     float64    `json:"confidence"`
	Scores         []RunScore `json:"scores"`
	Pairs          []Pair     `json:"pairs"`
	Warnings       []string   `json:"warnings"`
}

// RunScore is a headline row of one run.
type RunScore struct {
	Run string `json:"run"`
	Score
}

// differenceResamples is the number of resamples for differences where none is
// asked for. From there on the tenths that are printed stand: the end of an interval
// of width w is uncertain by about 0.7 w/√resamples, a twentieth of a point for
// w = 10.
const differenceResamples = 20_000

// Compare compares two or more runs, each pair of them, and adjusts the tests
// for their number. Runs by different rules or on different recordings are
// refused with the first difference. Options other than resamples and seed have
// no effect; the scores of each run have the intervals of its own options.
func Compare(runs []Run, options Options) (*Comparison, error) {
	return CompareAgainst(runs, "", options)
}

// CompareAgainst is [Compare] of the pairs of each other run with the named one,
// which comes first in them, so that a difference is run minus the named one. The
// tests are adjusted for these pairs alone. An empty name stands for all pairs.
func CompareAgainst(runs []Run, name string, options Options) (*Comparison, error) {
	if err := cmp.Or(CheckResamples(options.Resamples), sameBasis(runs)); err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	pairs, err := pairsOf(runs, name)
	if err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	options.Resamples = cmp.Or(options.Resamples, differenceResamples)
	o := options.withDefaults()
	first := runs[0].Results
	c := &Comparison{
		Against: name, Rules: first.rules.summary(), Resamples: o.Resamples, ScoreResamples: first.options.Resamples,
		Seed: o.Seed, Confidence: confidence, Warnings: []string{},
	}
	groups := make([]*group, len(runs))
	for i, r := range runs {
		groups[i] = r.Results.group(-1)
		c.Runs = append(c.Runs, r.compared(groups[i]))
		for _, row := range r.Results.headlineRows("", groups[i]) {
			c.Scores = append(c.Scores, RunScore{r.Name, row})
		}
	}
	var told []*ComparedRun
	for i := range c.Runs {
		told = append(told, &c.Runs[i])
	}
	tellApart(told)
	c.People, c.Recordings = groups[0].people(), groups[0].recordings
	var few []string
	for _, at := range pairs {
		n := effectivePeople(groups[at[0]].errorsApart(groups[at[1]]))
		if text := fewPeopleWarning("the differences of "+runs[at[0]].Name+" and "+runs[at[1]].Name, n, c.People); text != "" && c.People >= defaultMinPeople {
			few = append(few, text)
		}
	}
	c.Pairs = o.pairs(runs, groups, pairs, first.rules.reported())
	c.warn(&o, few)
	return c, nil
}

// pairsOf returns the positions of the runs of each pair.
func pairsOf(runs []Run, against string) ([][2]int, error) {
	var list [][2]int
	if against != "" {
		first := slices.IndexFunc(runs, func(r Run) bool { return r.Name == against })
		if first < 0 {
			return nil, fmt.Errorf("no run is named %q", against)
		}
		for i := range runs {
			if i != first {
				list = append(list, [2]int{first, i})
			}
		}
		return list, nil
	}
	for i := range runs {
		for j := i + 1; j < len(runs); j++ {
			list = append(list, [2]int{i, j})
		}
	}
	return list, nil
}

// warn says what limits the comparison as a whole.
func (c *Comparison) warn(o *Options, few []string) {
	if c.People < defaultMinPeople {
		c.Warnings = append(c.Warnings, fmt.Sprintf("%s: too few to tell runs apart", tabular.Plural(c.People, "person", "people")))
	}
	c.Warnings = append(c.Warnings, few...)
	if o.Resamples < minResamples {
		c.Warnings = append(c.Warnings, fewResamplesWarning(o.Resamples))
	}
}
