// Package dataset reads a data set of heart-sound recordings as a layout file
// describes it: the recordings, their people, labels and reference annotations,
// and the defects of all of these.
//
// # Layouts
//
// Nothing about any one data set is written in Go. A layout is one YAML file, whose
// keys configs/layouts/README.md explains.
//
// The names that a column same_person gives one person are united (union-find), and
// the smallest stands for all of them, so that one person never falls into two parts
// of a split.
//
// Only files below the data root are read. A path in a layout that leads
// elsewhere is an error on loading. Symbolic links are read if they lead to a
// file below the root; all others are only with [Options].FollowLinks. A link that
// is not read stands for its recording, annotation or table, and the error names
// the link, its target and the flag. What stands in the place of a recording and
// is no file (a pipe, a folder), and a file with the id of another, is listed like
// a recording, so that it is counted and the reason why it cannot be used is
// given. A folder that cannot be listed is a warning.
//
// A named group that nothing uses is an error: it is most often a misspelt one.
//
// # Audio
//
// A file that ends in .hea is the header of a WFDB record (package wfdb), which
// names the files with its signals; all others are WAV files. What a run records
// as digest of a record covers the header and all signal files. A model that has
// learnt from a recording knows it by the file with its samples, so that a WAV
// file behind a header is known.
//
// # Copies
//
// A folder with the file condition.json of phonocycle is a copy of a data set whose
// audio was changed. [Set].Copy is its record: how it was changed, and from what. A copy
// that is not complete is not opened.
//
// # Kinds of reference
//
//   - intervals: start, end and state; half-open, in seconds or samples.
//   - points: one time per sound, the middle of S1 or S2.
//   - starts: start and state; each state ends where the next starts. The end of
//     the last state is unknown: its row only ends the state before.
//   - ecg: a signal of a WFDB record. Each R wave on which two detectors agree
//     (package ecg) stands for an S1 whose middle is later by the delay of the
//     layout. S2 is not marked. The time around a beat in dispute, around missing
//     samples and in an interval that may hide a beat is not annotated. An ECG with
//     agreement on less than 85 % of the beats, or on fewer than eight, is no
//     reference.
//
// Times in samples are read at the sampling rate of the recording; with base 1
// the first sample has the number 1. Times in seconds are read to the nearest
// nanosecond.
//
// A file that ends in .mat is a MATLAB file of level 5 (package matfile): its
// variable, which the key variable names, is a cell array with one row per row of
// the annotation and its columns in the order above; header and delimiter are for
// text.
//
// # Defects
//
// Real annotations have defects. Each is a [Defect] with file and line, or row in
// a MATLAB file. What can be repaired in one way only is repaired and recorded in
// the reference's Repairs:
//
//   - a row of zero length is dropped, and so is a repeated row;
//   - an overlap of at most 30 ms is removed: the earlier row ends where the
//     later starts;
//   - a row that ends after the recording is cut, and one that starts after it is
//     dropped; one that starts up to 30 ms before it is moved to its start;
//   - rows that are not in time order are sorted;
//   - two neighbouring points in reverse order exchange their times, or their
//     rows, if S1 and S2 alternate after one of the two and not after the other.
//
// The first five repairs of each kind are listed by file and line; further ones
// are counted. A reference with more rows than a recording of its length can have
// ([MaxRows]) cannot be used.
//
// Gaps stay: this time is not annotated. (Scoring closes gaps of up to 30 ms,
// which come from rounding.) A state that does not follow the one before is
// reported and kept, because each sound is scored on its own. Any other defect,
// such as a row that ends before it starts, excludes the recording's reference;
// the error says where.
//
// The 30 ms and these rules are common practice, not those of a published source.
package dataset
