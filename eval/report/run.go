package report

import (
	"strings"
	"time"

	"phonocycle/eval"
)

// Run is what a page shows of one run.
type Run struct {
	Name       string
	Summary    *eval.Summary
	Details    *Details
	Provenance Provenance
}

// Provenance says what a run was made from.
type Provenance struct {
	Tool, Method, Configuration, Citation string
	Options                               string // of the method, as JSON
	ConfigDigest, ModelDigest             string
	InputDigest                           string // of all audio files
	DataSets                              []DataSet
	In, Done, Failed, Excluded            int
	Problems                              []Problem
	Warnings                              []string
	Started, Ended                        time.Time
	Platform                              string
}

// DataSet is a data set of a run.
type DataSet struct {
	Name, Title, Version, Citation string
	Recordings                     int
	ListDigest                     string
}

// Problem is a recording that failed or was excluded, and why.
type Problem struct{ Recording, Outcome, Reason string }

// toleranceSweep returns the pooled scores of a class at the headline anchor, in
// the order of the tolerances.
func toleranceSweep(s *eval.Summary, class eval.Class) []eval.Score {
	var rows []eval.Score
	for _, ms := range s.Rules.TolerancesMS {
		for _, r := range s.Scores {
			if r.Class == class && r.Anchor == s.Rules.Anchor && r.Aggregate == eval.Pooled && r.Stratum == "" && r.ToleranceMS == ms && !r.F1.Null() {
				rows = append(rows, r)
				break
			}
		}
	}
	return rows
}

// headlineRows returns the scores over all recordings at the headline tolerance.
func headlineRows(s *eval.Summary) []eval.Score {
	var rows []eval.Score
	for _, r := range s.Scores {
		if r.Stratum == "" && r.Intervals != nil {
			rows = append(rows, r)
		}
	}
	return rows
}

// stratum is the pooled score of both sounds over one stratum.
type stratum struct {
	Label, Value string
	eval.Score
}

// strataOf returns the strata of a summary in its order.
func strataOf(s *eval.Summary) []stratum {
	var list []stratum
	for _, r := range s.Scores {
		if r.Stratum != "" && r.Class == eval.Both && r.Aggregate == eval.Pooled {
			label, value, _ := strings.Cut(r.Stratum, "=")
			list = append(list, stratum{strings.ReplaceAll(label, "_", " "), value, r})
		}
	}
	return list
}
