package features

// Level says what one value of a feature describes, and so in which table it
// is a column.
type Level string

// The levels.
const (
	OfCycle     Level = "cycle"     // one value per cardiac cycle
	OfRecording Level = "recording" // one value per recording
)

// Statistics says by which statistics over its cycles a cycle feature enters
// the features of the recording.
type Statistics uint8

// The statistics over cycles.
const (
	Mean   Statistics = 1 << iota // arithmetic mean
	SD                            // standard deviation with n − 1
	Median                        // median
	IQR                           // third less first quartile

	MeanSD = Mean | SD
	Four   = Mean | SD | Median | IQR
)

// Scaling says what becomes of a value when the recording is amplified.
type Scaling string

// The scalings, for a factor g of amplitude.
const (
	Unchanged    Scaling = "unchanged"
	Proportional Scaling = "times g"
	Decibels     Scaling = "plus 20 log10 g"
	Logarithmic  Scaling = "plus a constant times ln g" // the constant is in the definition
)

// Feature is one row of the catalogue: everything that is said about one
// column, and the function that computes it. Columns, their metadata and the
// printed dictionary are all made from it.
type Feature struct {
	Name       string  // what, where and in which unit, in snake case
	Level      Level   // cycle or recording
	Unit       string  // "1" for a pure number, "FS" for parts of full scale
	Definition string  // one line, as a formula
	Source     string  // publication, or "common practice", or "ours"
	Range      string  // the values that can occur
	Null       string  // when the value is null
	Scaling    Scaling // under a change of gain

	// MinRate is the lowest sampling rate of a file, in hertz, that can hold the
	// bands that the definition speaks of; of a lower one the value is null.
	MinRate int

	// Statistics are those over cycles that the recording's features hold.
	// Zero at the level of the recording.
	Statistics Statistics

	// One of the two is set, by level; neither for a statistic over cycles.
	ofCycle     func(*cycle) float64
	ofRecording func(*recording) float64
}
