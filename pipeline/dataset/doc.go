// Package dataset reads a data set of heart-sound recordings as a layout file
// describes it: which recordings there are, whose they are, what is known of
// them and where the reference annotation of each lies.
//
// # Layouts
//
// Nothing about any one data set is written in Go. A layout is one YAML file:
//
//	name, title, version, citation, doi, licence, source, notes
//	                     what the data set is and where to get it
//	audio.include        patterns of audio files below the data root
//	audio.exclude        patterns to leave out, each with its reason
//	recording.patterns   regular expressions over the whole path below the root,
//	                     the first that matches counts; the named groups id,
//	                     person, site and take say what the name says, other
//	                     groups can be used in templates
//	recording.labels     groups that become labels of the recording
//	tables               delimited tables of labels, people, sites and takes
//	reference            how the reference annotation is written
//	stratify             labels of which each fold of a cross-validation gets
//	                     its share of every value
//
// In patterns * and ? stay within one folder and ** stands for any number of
// folders. In templates {path}, {dir} and {stem} stand for the audio file's
// path, folder and name without its extension, {id}, {person} and {site} for
// what is known of the recording, and {group} for a named group.
//
// A table is joined to the recordings by a key: the row whose key column equals
// the expanded match template belongs to the recording. Where a table writes
// names unlike those on disk, key_pattern is a regular expression with the
// group key, applied to the cell first. A column named by same_person holds
// another name of the same person: the names are united (union-find) and the
// smallest stands for all of them, so that one person never falls into two
// parts of a split.
//
// Columns are called by name where the table has a header, and by their number
// from 1 where it has none.
//
// Only files below the data root are read. A path in a layout that leads
// elsewhere is refused on loading, and a symbolic link that leads elsewhere is
// refused on reading and reported. What stands in the place of a recording and
// is none (a pipe, a folder, a link that leads nowhere), and what has the id of
// another, is listed like a recording, so that it is counted and told why it
// cannot be used. A folder that cannot be listed is a warning.
//
// # Three kinds of reference
//
//   - intervals: start, end and state; half-open, in seconds or samples.
//   - points: one time a sound, the middle of S1 or S2.
//   - starts: start and state; each state ends where the next begins, and the
//     last one, of which no end is known, says only where the one before ends.
//
// Times in samples are read at the rate of the recording; with base 1 the
// first sample has the number 1. Times in seconds are read digit by digit into
// nanoseconds, without passing through a binary fraction.
//
// # Untidy files
//
// Real annotations have flaws. Each is a [Defect] with file and line. What can
// be mended in one way only is mended and recorded in the reference's Repairs:
//
//   - a row without length is dropped, and so is a repeated row;
//   - an overlap of at most [MaxMend] is closed by ending the earlier row where
//     the later begins;
//   - a row that ends after the recording is cut to it, and one that begins
//     after its end is dropped; one that begins up to MaxMend before it is
//     moved to its start;
//   - rows out of the order of time are sorted;
//   - two neighbouring points that run backwards get each other's times, or
//     change places, where one of the two and not the other lets S1 and S2
//     alternate.
//
// Gaps stay: nobody annotated that time. (Scoring closes gaps of up to 30 ms,
// which come from rounding.) A state that follows one it cannot follow is
// reported and kept, because events are scored one by one. Anything else, such
// as a row that ends before it starts, excludes the recording's reference, and
// the error says where.
//
// MaxMend and these rules are common practice of careful reading, not of a
// published source.
package dataset
