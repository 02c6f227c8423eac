package report

import (
	"time"

	"phonocycle/eval"
)

// Run is what a page shows of one run.
type Run struct {
	Name     string
	Summary  *eval.Summary // with the provenance of its scores
	Details  *Details
	Colophon Colophon
}

// Colophon says when and where a run was made, and from what data.
type Colophon struct {
	Tool, Configuration, Citation string
	ConfigDigest                  string
	InputDigest                   string // of all audio files
	DataSets                      []DataSet
	In, Done, Failed, Excluded    int
	Problems                      []Problem
	Warnings                      []string
	Started, Ended                time.Time
	Platform                      string
	Cost                          string // in words; empty where it is not known
}

// DataSet is a data set of a run.
type DataSet struct {
	Name, Title, Version, Citation string
	Recordings                     int
	ListDigest                     string
}

// Problem is a recording that failed or was excluded, and why.
type Problem struct{ Recording, Outcome, Reason string }
