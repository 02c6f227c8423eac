package dataset

import (
	"cmp"
	"fmt"
	"slices"
)

// Kind names a kind of defect; scan counts defects by it.
type Kind string

// The kinds that other packages look for.
const (
	KindGap   Kind = "gap between rows"
	KindOrder Kind = "states out of order"
)

// Defect is one thing that is wrong with a data set.
type Defect struct {
	File      string `json:"file"` // below the data root
	Line      int    `json:"line"` // from 1, a row in a MATLAB file; 0 for the whole file
	Kind      Kind   `json:"kind"`
	Recording string `json:"recording,omitempty"`
	Message   string `json:"message"`
	Action    string `json:"action"`   // what a run does about it
	Excludes  bool   `json:"excludes"` // the recording's reference cannot be used

	repaired bool // the action changed the reference
}

// defectType is all that one type of defect needs: a declaration below, and the
// line of code that finds it. Types with one kind are counted together.
type defectType struct {
	kind               Kind
	message, action    string // message is a format
	repaired, excludes bool
}

// noted declares a defect that leaves references as they are.
func noted(kind Kind, message, action string) defectType {
	return defectType{kind: kind, message: message, action: action}
}

// repaired declares a defect that is repaired in the reference.
func repaired(kind Kind, message, action string) defectType {
	return defectType{kind: kind, message: message, action: action, repaired: true}
}

// excluding declares a defect with which a reference cannot be used.
func excluding(kind Kind, message string) defectType {
	return defectType{kind: kind, message: message, action: "not scored", excludes: true}
}

// remedies say what to do about kinds of defects that many files share.
var remedies = map[Kind]string{}

// often gives the kind of a defect a remedy for when many files have it: most
// often it is the layout that is wrong.
func (t defectType) often(remedy string) defectType {
	remedies[t.kind] = remedy
	return t
}

// Defects of the data root.
var (
	folderUnreadable = noted("unreadable folder", "folder cannot be listed: %v",
		"its files are not read: make it readable, or move it out of the data root")
	linkOutside = noted("link out of the data root", "symbolic link to %s, outside the data root",
		"not read: give --follow-links to read it, or put the file itself there")
	linkBroken = noted("link to nothing", "symbolic link to %s, where there is no readable file",
		"not read: fetch the file or make it readable, or put it there itself")
	linkLoop = noted("link in a loop", "symbolic link to %s, which leads back to itself",
		"not read: put the file itself there")
	linkNoFile = noted("link to no file", "symbolic link to %s, a pipe, socket or device and no file",
		"not read: put the file itself there")
	folderLinked = noted("linked folder not followed", "symbolic link to the folder %s",
		"not followed: give --follow-links to read it, or put the folder itself there")
	folderLinkLoop = noted("linked folder in a loop", "symbolic link to %s, a folder that holds the link",
		"not followed: remove the link")
	folderLinksTooMany = noted("too many linked folders", "symbolic link to the folder %s, after 10,000 others",
		"not followed: put the folder itself there")
)

// Defects of the list of recordings.
var (
	nameUnmatched = noted("file name does not match the layout", "the path matches no pattern of the layout", "person and site are unknown").
			often("correct recording.patterns in the layout")
	takeInName  = noted("file name does not match the layout", "take %q is not a number from 1", "taken as 1")
	idRepeated  = noted("duplicate id", "id %s already belongs to %s", "not used: rename one of the two files, or remove the copy")
	audioBroken = noted("unreadable audio", "%v", "the recording fails in a run")
	rateLow     = noted("sampling rate below 1000 Hz", "%d samples a second do not hold the band up to 400 Hz", "features that need the band are null")
)

// Defects of label tables.
var (
	tableMissing    = noted("missing table", "the table of the layout does not exist", "its labels stay empty")
	tableUnreadable = noted("unreadable text", "%v", "its labels stay empty")
	tableCut        = noted("unreadable text", "%v", "nothing is read from this line on")
	carriageReturns = noted("CR LF line ends", "%d lines end in CR LF, the first is this one", "read as line ends")
	tableColumn     = noted("missing column", "no column %q%s", "its values stay empty")
	tableColumns    = noted("wrong number of columns", "%d columns instead of %d", "row not used")
	rowMissing      = noted("recording missing from a table", "no row for recording %s (key %q)", "its labels stay empty").
			often("correct key, key_pattern or match in the layout, or complete the table")
	rowUnused   = noted("row without recording", "no recording for the row of %q", "not used")
	rowRepeated = noted("repeated row", "%q already has line %d", "the first row counts")
	rowKey      = noted("key does not match the layout", "column %q: %q does not match key_pattern", "row not used").
			often("correct key_pattern in the layout")
	idAsNumber       = noted("id written as a decimal number", "column %q: id written as %s", "read as %s")
	labelCode        = noted("unknown code", "%s: %q is none of the layout's codes", "label left empty")
	labelNotNumber   = noted("not a number", "%s: %q is not a number", "label left empty")
	takeNotNumber    = noted("not a number", "column %q: take %q is not a number from 1", "not used")
	numberInText     = noted("number in a text column", "%s: number %s instead of text or a missing value", "kept as text")
	personTwice      = noted("person with two ids", "%s are one person", "called %s")
	personOneSided   = noted("second id named in one row only", "%s names %s as the same person, whose row does not name it", "read as one person")
	keyColumnMissing = noted("wrong number of columns", "%d columns instead of %d, and none with the recording", "row not used")
)

// Defects of the collection of annotations.
var (
	annotationMissing = noted("recording without annotation", "recording %s has no annotation", "not scored").
				often("if most recordings have it, correct reference.paths in the layout")
	annotationSecond = noted("second annotation", "recording %s already has the annotation %s", "not read")
	annotationUnused = noted("annotation without recording", "no recording for this annotation", "not used").
				often("if most files have it, correct reference.paths in the layout")
	annotationRowsUnused  = noted("annotation without recording", "annotation of %q, which is no recording of the data set", "not used")
	rowsUnlisted          = noted("annotation without recording", "%d more rows of no recording", "not used")
	annotationsMissing    = noted("missing table", "the table of annotations does not exist", "nothing is scored")
	annotationsUnreadable = noted("unreadable text", "%v", "nothing is scored")
)

// Defects of the text of one annotation.
var (
	annotationUnreadable = excluding("unreadable text", "%v").
				often("correct delimiter in the layout, or save the files as UTF-8 text")
	matlabUnreadable = excluding("unreadable MATLAB file", "%v").
				often("correct variable in the layout, or save the files anew as version 7")
	matlabCell = excluding("cell without a number or name", "%s: want one number, or characters, in the cell").
			often("correct variable in the layout")
	annotationTableCut = excluding("unreadable text", "%v (the table was not read to its end)")
	annotationColumn   = excluding("missing column", "header without a column %q: it has %s").
				often("if most files have it, correct header, delimiter or columns in the layout")
	annotationWidth = excluding("wrong number of columns", "%d columns instead of %d").
			often("if most rows have it, correct delimiter or columns in the layout")
	columnsEmpty  = noted("wrong number of columns", "%d columns instead of %d", "the empty ones are ignored")
	timeNotNumber = excluding("not a number", "%s %q: %v").
			often("if most rows have it, correct columns, header or unit in the layout")
	rateUnknown     = excluding("unknown sampling rate", "times are in samples, and the sampling rate of the recording is unknown")
	annotationEmpty = excluding("empty annotation", "no annotated state")
	stateUnknown    = excluding("unknown code", "state %q is none of the layout's codes").
			often("if most rows have it, add the code to the layout")
	rowsTooMany = excluding("too many rows", "more than the %d rows that a recording of %s can have: remove repeated rows, or check that the file belongs to this recording")
)

// Defects of an ECG as a reference.
var (
	ecgUnusable = excluding("ECG is no reference", "%v")
	ecgFewBeats = excluding("ECG is no reference", "two detectors of R waves agree on %d beats: at least %d are needed")
	ecgDisputed = excluding("ECG is no reference", "two detectors of R waves agree on %d of %d beats, %.1f %%: at least %d %% are needed")
)

// Defects of the times and states of one annotation.
var (
	zeroLength = repaired("row of zero length", "row of state %q has no length at %s", "row dropped")
	endFirst   = excluding("end before start", "end %s before start %s").
			often("if most files have it, correct columns in the layout")
	startsBack    = excluding("end before start", "time %s is before that of %s, %s")
	unsorted      = repaired("rows not in time order", "start %s is before that of %s, %s", "rows sorted by start")
	gap           = noted(KindGap, "starts %s after the %s ends at %s", "kept: this time is not annotated")
	overlap       = repaired("overlapping rows", "starts %s before the %s ends at %s", "the earlier row ends where this one starts")
	overlapLong   = excluding("overlapping rows", "starts %s before the %s ends at %s")
	rowTwice      = repaired("repeated annotation", "same as the %s", "row dropped")
	pointTwice    = repaired("repeated annotation", "same as the point of %s", "point dropped")
	stateOrder    = repaired(KindOrder, "%v follows %v of %s instead of %v", "kept: each sound is scored on its own")
	soundOrder    = repaired(KindOrder, "%v follows %v of %s", "kept: each sound is scored on its own")
	soundsAtOnce  = excluding("two sounds at one time", "same time as %s, for another sound")
	startTooEarly = excluding("time before the recording", "time %s is before the recording")
	startEarly    = repaired("time before the recording", "start %s is before the recording", "moved to the start of the recording")
	startLate     = repaired("time after the recording", "start %s is after the end of the recording at %s", "row dropped").
			often("if most files have it, correct unit or base in the layout")
	endLate        = repaired("time after the recording", "end %s is after the end of the recording at %s", "cut to the recording")
	pointLate      = repaired("time after the recording", "time %s is after the end of the recording at %s", "point dropped")
	timesExchanged = repaired("exchanged points", "%v at %s is before %v of %s at %s", "each gets the time of the other")
	rowsExchanged  = repaired("exchanged points", "%v at %s is before %v of %s at %s", "the two rows exchange places")
)

// at returns a defect of type t in a line of a file, 0 for the whole file.
func (t defectType) at(file string, line int, args ...any) Defect {
	return Defect{File: file, Line: line, Kind: t.kind, Message: fmt.Sprintf(t.message, args...), Action: t.action,
		Excludes: t.excludes, repaired: t.repaired}
}

// of returns the defect as one of a recording.
func (d Defect) of(recording string) Defect {
	d.Recording = recording
	return d
}

// withAction returns the defect with its action, a format, filled in.
func (d Defect) withAction(args ...any) Defect {
	d.Action = fmt.Sprintf(d.Action, args...)
	return d
}

// Place returns file and line, as in "set_a.csv:14", or file and row, as in
// "a0001_StateAns.mat, row 14".
func (d *Defect) Place() string {
	file := Printable(d.File)
	switch {
	case d.Line == 0:
		return file
	case isMatlab(d.File):
		return fmt.Sprintf("%s, row %d", file, d.Line)
	}
	return fmt.Sprintf("%s:%d", file, d.Line)
}

// String returns place, message and action in one line.
func (d *Defect) String() string { return d.Place() + ": " + d.Message + ": " + d.Action }

// sortDefects sorts by file, line and kind, keeping the order of equals.
func sortDefects(defects []Defect) {
	slices.SortStableFunc(defects, func(a, b Defect) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Recording, b.Recording))
	})
}

// excluded returns the first defect with which the reference cannot be used, or
// nil.
func excluded(defects []Defect) *Defect {
	if i := slices.IndexFunc(defects, func(d Defect) bool { return d.Excludes }); i >= 0 {
		return &defects[i]
	}
	return nil
}
