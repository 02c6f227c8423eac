// Package compare reads the output folders of several runs: to compare their
// scores ([Run]), to list the references that should be reviewed ([Audit]), and to
// tell how well data sets can be identified from features ([Identifiability]).
//
// Scores and references are read side by side: all folders must have the same
// recordings with the same references. The first difference is an error. Nothing
// is written.
package compare
