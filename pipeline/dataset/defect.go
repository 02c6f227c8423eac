package dataset

import (
	"cmp"
	"fmt"
	"slices"
)

// Kind names a sort of defect.
type Kind string

// The defects that Open and Scan look for.
const (
	// of the collection
	KindAnnotationMissing Kind = "recording without annotation"
	KindRecordingMissing  Kind = "annotation without recording"
	KindSecondReference   Kind = "second annotation"
	KindSamePerson        Kind = "person with two ids"
	KindOneSided          Kind = "second id not returned"
	KindRowMissing        Kind = "recording without row"
	KindRowUnused         Kind = "row without recording"
	KindRowRepeated       Kind = "row repeated"
	KindTableMissing      Kind = "table missing"
	KindColumnMissing     Kind = "column missing"
	KindName              Kind = "name not understood"
	KindDuplicateID       Kind = "id repeated"
	KindOutside           Kind = "link out of the data root"
	KindLinkedFolder      Kind = "linked folder not followed"
	KindFolder            Kind = "folder not listed"
	KindAudio             Kind = "audio unreadable"

	// of text
	KindCRLF       Kind = "CRLF line ends"
	KindText       Kind = "text unreadable"
	KindColumns    Kind = "wrong number of columns"
	KindNotNumber  Kind = "letters where a number belongs"
	KindNumber     Kind = "number where text or a missing value belongs"
	KindIDAsNumber Kind = "id written as a decimal number"
	KindCode       Kind = "unknown code"

	// of time
	KindNoLength  Kind = "row without length"
	KindBackwards Kind = "end before start"
	KindUnsorted  Kind = "rows out of the order of time"
	KindGap       Kind = "gap between rows"
	KindOverlap   Kind = "overlap of rows"
	KindRepeated  Kind = "annotation repeated"
	KindOrder     Kind = "broken order of states"
	KindNegative  Kind = "time before the recording"
	KindPastEnd   Kind = "time past the recording"
	KindExchanged Kind = "times exchanged"
	KindNothing   Kind = "annotation says nothing"
)

// Defect is one flaw of a data set.
type Defect struct {
	File      string `json:"file"` // below the data root
	Line      int    `json:"line"` // from 1; 0 for the whole file
	Kind      Kind   `json:"kind"`
	Recording string `json:"recording,omitempty"`
	Message   string `json:"message"`
	Action    string `json:"action"`   // what a run does about it
	Excludes  bool   `json:"excludes"` // the recording's reference cannot be used

	mends bool // the action changed the reference, and goes into its Repairs
}

// Place returns file and line, as in "set_a.csv:14".
func (d *Defect) Place() string {
	file := Printable(d.File)
	if d.Line == 0 {
		return file
	}
	return fmt.Sprintf("%s:%d", file, d.Line)
}

// String returns place, message and action in one line.
func (d *Defect) String() string {
	s := d.Place() + ": " + d.Message
	if d.Action != "" {
		s += ": " + d.Action
	}
	return s
}

// sortDefects sorts by file, line and kind, keeping the order of equals.
func sortDefects(defects []Defect) {
	slices.SortStableFunc(defects, func(a, b Defect) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Recording, b.Recording))
	})
}
