// Package configs carries the files that the program brings along, so that a
// single binary works without an installation:
//
//   - layouts/ holds one YAML file for each data set, which says where its
//     recordings, labels and reference annotations lie and how they are written
//     (read by package dataset).
//
// A new data set is one new file here.
package configs

import "embed"

// FS holds the embedded folders.
//
//go:embed layouts
var FS embed.FS
