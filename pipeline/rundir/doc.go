// Package rundir is an output folder: what it was made from, what was made, and
// who may write into it.
//
//	plan.json       what the folder is made from; the same on every machine
//	manifest.json   the plan with counts, times and the machine
//	summary.json    the scores with the rules behind them
//	cost….json      what an interrupted run or a shard cost, until the manifest says it
//	scoring.json    the plan of a scoring with other rules
//	run.lock        who is writing, while somebody is
//	NAME/part-….parquet   the tables, see package table
//
// A [Plan] carries a digest of everything that decides a byte of the tables.
// Every table names that digest, so that parts of two plans never mix. Locks
// are those of the operating system. Files appear under their names only when
// they are complete.
package rundir

import "phonocycle/pipeline/table/atomicfile"

// Version is the version of the program that plans, tables and manifests carry.
const Version = "0.6.0"

// Tool is this program as plans and tables name it.
const Tool = atomicfile.Program + " " + Version

// Names of the files of an output folder.
const (
	PlanFile     = "plan.json"
	ManifestFile = "manifest.json"
	SummaryFile  = "summary.json"
	ScoringFile  = "scoring.json" // plan by which the stage score alone made the tables matches and scores
	ModelsFolder = "models"       // of a cross-validation: one model per fold
)

// Stages of plans that more than one package must tell apart.
const (
	StageCrossval = "crossval"
	StageScore    = "score"
)
