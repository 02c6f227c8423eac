package report

import (
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
