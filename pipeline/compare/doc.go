// Package compare reads the output folders of several runs over the same
// recordings side by side: to compare their scores ([Run]), and to list the
// references that should be reviewed ([Audit]).
//
// All folders must have the same recordings with the same references. The first
// difference is an error. Nothing is written.
package compare
