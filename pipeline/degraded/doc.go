// Package degraded writes copies of data sets whose audio is changed by a condition
// (package degrade).
//
// A copy has the names of the original. The audio of every recording is written as a WAV
// file of one channel. All other files are copied byte for byte, but for WAV files that
// the layout does not read, which are left out so that no original passes for a changed
// one. The record [dataset.CopyFile] says what was done: it is written first, as not
// complete, and again at the end. What opens a data set refuses a copy that is not
// complete, and states its condition beside every result.
//
// References stay as they are. Where they count samples, they count those of the
// original, whose rate the record holds.
//
// A recording that cannot be read lies in the copy as it is, so that it fails there for
// the same reason.
package degraded
