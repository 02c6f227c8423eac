// Package configs carries the files that the program brings along, so that a
// single binary works without an installation:
//
//   - layouts/ holds one YAML file for each data set, which says where its
//     recordings, labels and reference annotations lie and how they are written
//     (read by package dataset);
//   - runs/ holds one YAML file for each published baseline, with what the paper
//     reports and where ours differs (read by package config);
//   - models/ holds one fitted model for each method that wants one, with a card
//     that says what it was fitted to and how good it is (read by package
//     pipeline, made by package segment);
//   - people/ holds lists of people, one id per line, by which recordings are
//     selected (read by package config);
//   - studies/ holds studies: methods x designs x conditions (read by package study).
//
// A new data set or baseline is one new file here.
package configs

import "embed"

// FS holds the embedded folders.
//
//go:embed layouts runs models people studies
var FS embed.FS
