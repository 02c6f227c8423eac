// Package pipeline runs a segmentation method over whole data sets and writes
// what it finds as tables.
//
// # The way of the data
//
// A layout and a folder give a list of recordings, sorted by id. Each goes, on
// one of several workers, from WAV to samples, to the analysis rate of 1 kHz,
// to a segmentation, to features; its rows are then written in the order of
// the list. Every stage meets the next in a table:
//
//	audio ──segment──> recordings, states ──extract──> cycles, people
//	                          └──────────── score ──> matches, scores, summary
//
// [Run] makes the whole way and reads each recording once. [Segment],
// [Extract] and [Score] make one stage each, from and to the same tables, so
// that a segmentation made elsewhere can enter where the states table stands.
//
// # Parts
//
// The unit of work is a part: a fixed number of consecutive recordings. Each
// table of a part is written under a temporary name, synced and renamed, the
// recordings table last, so that a part whose recordings table stands is whole.
// A run that was killed continues with the first part that is missing, and
// parts of one plan can be made on different machines.
//
// # Same input, same bytes
//
// Rows depend on the recording, the configuration and the model, never on the
// worker that made them; they are written in list order; dates, host names and
// timings are kept out of tables and live in the manifest alone. Tables are
// therefore equal byte for byte for any number of workers.
//
// # Every recording is accounted for
//
// A recording that cannot be read or segmented becomes a row with the outcome
// "failed" and the reason; one that the rules of the run leave out (too short
// to hold a cycle) becomes a row with the outcome "excluded". The counts in the
// manifest and in the summary add up to the number of recordings listed.
package pipeline
