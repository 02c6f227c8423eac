package report

import (
	"time"

	"phonocycle/pipeline/pcg"
)

// TeachingPage explains the heart sounds by recordings, for a lecture or for
// reading at home. Several recordings stand on one time axis, so that their rates
// and durations can be compared.
type TeachingPage struct {
	Recordings []TeachingRecording
	Stretch    time.Duration // length of the time axis

	// Quiz hides states, labels and names until the reader asks for them.
	Quiz bool
	// Sheet makes a worksheet of two printed pages in place of the page: signals to
	// be marked by hand, and the same with the states.
	Sheet bool
}

// TeachingRecording is a recording of a teaching page.
type TeachingRecording struct {
	Recording string
	DataSet   string // title and version
	Citation  string
	Labels    []Fact // what the data set says of it, in the words of the data set
	StatesBy  string // who or what marked the states, as in "the method conv-hsmm"

	States   []pcg.Interval
	Length   time.Duration // of the recording
	From, To time.Duration // the stretch that is drawn and played
	Sound    Sound         // of the whole recording
	ECG      ECG           // of the whole recording; empty where there is none

	ECGText string // where the ECG comes from or why it is not shown; empty where there is none
}

// MaxTeachingRecordings is the largest number of recordings that a teaching page
// compares: as many as fit on one printed page.
const MaxTeachingRecordings = 4

// TeachingStretch is the usual length of the stretch that a teaching page shows:
// few enough beats to be seen from the last row of a lecture hall.
const TeachingStretch = 5 * time.Second
