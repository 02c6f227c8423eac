package table

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// Info names a table and the version of its columns. The version rises when a
// column changes its meaning or goes; a new column alone does not raise it.
type Info struct {
	Name    string // also the name of the folder that holds the parts
	Version int
	Doc     string // what one row is
}

// Row is implemented by the struct that describes the rows of a table.
type Row interface{ Table() Info }

// Outcomes of a recording.
const (
	Done     = "done"     // segmented
	Failed   = "failed"   // could not be used; the reason says why
	Excluded = "excluded" // left out by a rule of the data set or the run; the reason says which
)

// Sources of an interval, a cycle or an event.
const (
	Predicted = "predicted" // by a segmentation method
	Reference = "reference" // by the data set's annotators
)

// Kinds of segmentation.
const (
	Intervals = "intervals" // states with start and end
	Points    = "points"    // the middle of each sound
)

// Recording is one row of the table recordings. The labels of the data set and
// the features over the recording follow as dynamic columns.
type Recording struct {
	Recording            string         `table:"recording" doc:"id of the recording, unique within the data set"`
	DataSet              string         `table:"data_set,category" doc:"name of the data set"`
	Person               string         `table:"person" doc:"one name for all recordings of one person"`
	Site                 string         `table:"site,category,null" doc:"where on the chest, in the words of the data set"`
	Take                 int32          `table:"take" doc:"number of the recording at its site, from 1"`
	Audio                string         `table:"audio" doc:"path of the audio below the data root"`
	AudioDigest          string         `table:"audio_sha256,null" doc:"SHA-256 of the audio file; of a WFDB record it covers the header and its signal files"`
	Reference            string         `table:"reference,category,null" doc:"name of the reference among those of the layout; null where the layout has none"`
	ReferenceDigest      string         `table:"reference_sha256,null" doc:"SHA-256 of the file of the reference annotation; null where there is none"`
	LabelsDigest         string         `table:"labels_sha256,null" doc:"SHA-256 of what the data set says of the recording: names, person, site, take, labels"`
	Fold                 *int32         `table:"fold" doc:"fold of the person in cross-validation, from 0; null where there are fewer people than folds"`
	Duration             *time.Duration `table:"duration_s" unit:"s" doc:"number of samples divided by the sampling rate"`
	Rate                 *int32         `table:"rate_hz" unit:"Hz" doc:"sampling rate of the audio, as it was read or as --condition made it"`
	Channels             *int32         `table:"channels" doc:"number of channels of the audio file"`
	Bits                 *int32         `table:"bits_per_sample" unit:"bit" doc:"size of a sample in the audio file"`
	Encoding             string         `table:"encoding,category,null" doc:"encoding of the samples in the audio file"`
	Outcome              string         `table:"outcome,category" doc:"done, failed or excluded"`
	Reason               string         `table:"reason,null" doc:"why the recording failed or was excluded"`
	Repairs              string         `table:"repairs,null" doc:"what was repaired on reading audio and reference, joined by semicolons"`
	ReferenceKind        string         `table:"reference_kind,category,null" doc:"how the reference is written down: intervals, points, starts or ecg"`
	ReferenceNote        string         `table:"reference_note,null" doc:"why there is no reference to score against"`
	Annotated            *time.Duration `table:"annotated_s" unit:"s" doc:"total length of the annotated states"`
	Method               string         `table:"method,category,null" doc:"name of the segmentation method"`
	ModelDigest          string         `table:"model_digest,category,null" doc:"digest of the method's fitted parameters"`
	PersonInTrainingData *bool          `table:"person_in_training_data" doc:"whether the method's parameters were fitted on recordings of this person; null where it has no fitted parameters"`
	SegmentationKind     string         `table:"segmentation_kind,category,null" doc:"how the predicted states are given: intervals, or points where a program marks the middle of each sound"`
	SegmentationSource   string         `table:"segmentation_source,category,null" doc:"whose states are measured: predicted or reference"`
	Confidence           float64        `table:"confidence,null" unit:"1" doc:"the method's confidence in its segmentation, from 0 to 1"`
	ExchangeProbability  float64        `table:"exchange_probability,null" unit:"1" doc:"the method's probability that S1 and S2 are exchanged throughout"`
	CycleLength          *time.Duration `table:"cycle_length_s" unit:"s" doc:"the method's estimate of the time from one S1 to the next"`
	HeartRate            float64        `table:"method_heart_rate_per_min,null" unit:"1/min" doc:"60 s divided by the cycle length"`
}

// Table implements Row.
func (Recording) Table() Info {
	return Info{Name: "recordings", Version: 6, Doc: "one row per recording"}
}

// State is one row of the table states: an interval of one state, half-open
// [Start, End), or, where reference or prediction gives no durations, a point: the middle
// of a sound as a row of zero length with Start = End. An interval is always
// longer than zero, so that the two cannot be taken for one another. Beside
// points, an interval of the state "unannotated" is time in which the beats are
// not known.
type State struct {
	Recording string        `table:"recording" doc:"id of the recording"`
	Origin    string        `table:"source,category,optional" doc:"who says so: predicted or reference"`
	Index     int32         `table:"index,optional" doc:"number of the interval within its recording and source, from 0"`
	State     string        `table:"state,category" doc:"S1, systole, S2 or diastole; unannotated: time between points of a reference in which its beats are not known"`
	Start     time.Duration `table:"start_s" unit:"s" doc:"start of the interval, included"`
	End       time.Duration `table:"end_s" unit:"s" doc:"end of the interval, excluded; equal to the start where only the middle of a sound is marked"`
}

// Table implements Row.
func (State) Table() Info {
	return Info{Name: "states", Version: 2, Doc: "one row per interval of one state"}
}

// IntervalStates returns intervals of a recording as rows of the table states.
func IntervalStates(recording, source string, intervals []pcg.Interval) []State {
	rows := make([]State, len(intervals))
	for i, iv := range intervals {
		rows[i] = State{Recording: recording, Origin: source, Index: int32(i), State: iv.State.String(), Start: iv.Start, End: iv.End}
	}
	return rows
}

// PointStates returns points of a recording as rows of zero length of the table
// states.
func PointStates(recording, source string, points []pcg.Point) []State {
	rows := make([]State, len(points))
	for i, p := range points {
		rows[i] = State{Recording: recording, Origin: source, Index: int32(i), State: p.Sound.String(), Start: p.At, End: p.At}
	}
	return rows
}

// ReferenceStates returns a reference as rows of the table states, in the order of
// time.
func ReferenceStates(recording string, r *pcg.Reference) []State {
	rows := append(PointStates(recording, Reference, r.Points), IntervalStates(recording, Reference, r.Intervals)...)
	if len(r.Unannotated) > 0 {
		rows = append(rows, IntervalStates(recording, Reference, r.Unannotated)...)
		slices.SortStableFunc(rows, func(a, b State) int { return cmp.Compare(a.Start, b.Start) })
		for i := range rows {
			rows[i].Index = int32(i)
		}
	}
	return rows
}

// IsUnannotated reports whether the row is time without known beats.
func (s *State) IsUnannotated() bool { return s.State == pcg.Unannotated.String() }

// IsPoint reports whether the row marks the middle of a sound and no interval.
func (s *State) IsPoint() bool { return s.Start == s.End }

// Interval returns the row as an interval. A row whose state is unknown or
// whose end comes before its start is an error that names the recording.
func (s *State) Interval() (pcg.Interval, error) {
	state, err := pcg.ParseState(s.State)
	if err != nil {
		return pcg.Interval{}, fmt.Errorf("recording %s: interval %d: %w", s.Recording, s.Index, err)
	}
	if s.End < s.Start {
		return pcg.Interval{}, fmt.Errorf("recording %s: interval %d: end %v before start %v", s.Recording, s.Index, s.End, s.Start)
	}
	return pcg.Interval{Start: s.Start, End: s.End, State: state}, nil
}

// Cycle is one row of the table cycles: a cardiac cycle from the start of S1 to
// the start of the next S1. The labels of the data set and the features of the
// cycle follow as dynamic columns.
type Cycle struct {
	Recording            string        `table:"recording" doc:"id of the recording"`
	DataSet              string        `table:"data_set,category,optional" doc:"name of the data set"`
	Person               string        `table:"person" doc:"one name for all recordings of one person"`
	Site                 string        `table:"site,category,null" doc:"where on the chest, in the words of the data set"`
	Fold                 *int32        `table:"fold" doc:"fold of the person in cross-validation, from 0; null where there are fewer people than folds"`
	Origin               string        `table:"source,category" doc:"whose states the cycle is made of: predicted or reference"`
	Method               string        `table:"method,category,null" doc:"name of the segmentation method"`
	ModelDigest          string        `table:"model_digest,category,null" doc:"digest of the method's fitted parameters"`
	PersonInTrainingData *bool         `table:"person_in_training_data" doc:"whether the method's parameters were fitted on recordings of this person; null where it has no fitted parameters"`
	Index                int32         `table:"index" doc:"number of the cycle within its recording and source, from 0"`
	Start                time.Duration `table:"start_s" unit:"s" doc:"start of S1"`
	S1End                time.Duration `table:"s1_end_s" unit:"s" doc:"end of S1, start of systole"`
	S2Start              time.Duration `table:"s2_start_s" unit:"s" doc:"end of systole, start of S2"`
	S2End                time.Duration `table:"s2_end_s" unit:"s" doc:"end of S2, start of diastole"`
	End                  time.Duration `table:"end_s" unit:"s" doc:"end of diastole, start of the next S1"`
}

// Table implements Row.
func (Cycle) Table() Info { return Info{Name: "cycles", Version: 4, Doc: "one row per cardiac cycle"} }

// Person is one row of the table people: a person with what the data set says of
// all their recordings alike and, as dynamic columns, the labels and the means
// of the features of their recordings.
type Person struct {
	Person               string `table:"person" doc:"one name for all recordings of one person"`
	DataSet              string `table:"data_set,category" doc:"name of the data set"`
	Fold                 *int32 `table:"fold" doc:"fold of the person in cross-validation, from 0; null where there are fewer people than folds"`
	Recordings           int32  `table:"recordings" doc:"number of recordings of the person"`
	Measured             int32  `table:"recordings_measured" doc:"number of them that were segmented; the features are means over these"`
	Sites                string `table:"sites,category,null" doc:"where on the chest the measured ones were made, sorted and joined by +"`
	VaryingLabels        string `table:"varying_labels,category,null" doc:"labels that differ between the recordings of the person, and are therefore null here, joined by +"`
	Method               string `table:"method,category,null" doc:"name of the segmentation method"`
	ModelDigest          string `table:"model_digest,category,null" doc:"digest of the method's fitted parameters"`
	PersonInTrainingData *bool  `table:"person_in_training_data" doc:"whether the method's parameters were fitted on recordings of this person; null where it has no fitted parameters"`
	SegmentationSource   string `table:"segmentation_source,category,null" doc:"whose states are measured: predicted or reference"`
}

// Table implements Row.
func (Person) Table() Info { return Info{Name: "people", Version: 4, Doc: "one row per person"} }

// Window is one row of the table windows: an excerpt of a recording for a
// network. The labels of the data set and, as vectors of one length, the signal
// and the state of each sample follow as dynamic columns.
type Window struct {
	Recording            string        `table:"recording" doc:"id of the recording"`
	DataSet              string        `table:"data_set,category" doc:"name of the data set"`
	Person               string        `table:"person" doc:"one name for all recordings of one person"`
	Site                 string        `table:"site,category,null" doc:"where on the chest, in the words of the data set"`
	Fold                 *int32        `table:"fold" doc:"fold of the person in cross-validation, from 0; null where there are fewer people than folds"`
	Origin               string        `table:"source,category" doc:"whose states the window shows: predicted or reference"`
	Method               string        `table:"method,category,null" doc:"name of the segmentation method"`
	ModelDigest          string        `table:"model_digest,category,null" doc:"digest of the method's fitted parameters"`
	PersonInTrainingData *bool         `table:"person_in_training_data" doc:"whether the method's parameters were fitted on recordings of this person; null where it has no fitted parameters"`
	Index                int32         `table:"index" doc:"number of the window within its recording, from 0; of a window of a cycle, that of the cycle in the table cycles"`
	Start                time.Duration `table:"start_s" unit:"s" doc:"time of the first sample"`
	Samples              int32         `table:"samples" doc:"number of samples that are signal; those after them are zero"`
	Cut                  bool          `table:"cut" doc:"whether the cycle goes on after the window"`
}

// Table implements Row.
func (Window) Table() Info {
	return Info{Name: "windows", Version: 3, Doc: "one row per excerpt of a recording"}
}

// Match is one row of the table matches: a reference or a predicted event and
// what became of it at the headline tolerance. A matched pair has two rows, one
// from each side.
type Match struct {
	Recording string         `table:"recording" doc:"id of the recording"`
	Person    string         `table:"person" doc:"one name for all recordings of one person"`
	Class     string         `table:"class,category" doc:"S1 or S2"`
	Origin    string         `table:"source,category" doc:"side of the event: predicted or reference"`
	Anchor    time.Duration  `table:"anchor_s" unit:"s" doc:"time of the event at the headline anchor"`
	Partner   *time.Duration `table:"partner_s" unit:"s" doc:"time of the event matched on the other side"`
	Delta     *time.Duration `table:"delta_s" unit:"s" doc:"predicted minus reference time of the pair"`
	Outcome   string         `table:"outcome,category" doc:"TP, FP or FN; ignored: predicted outside scored time; absorbed: pair whose reference is cut by an end of the recording; cut: such a reference without a partner"`
}

// Table implements Row.
func (Match) Table() Info {
	return Info{Name: "matches", Version: 1, Doc: "one row per reference or predicted event"}
}

// Score is one row of the table scores.
type Score struct {
	Recording   string  `table:"recording" doc:"id of the recording"`
	Person      string  `table:"person" doc:"one name for all recordings of one person"`
	Class       string  `table:"class,category" doc:"S1 or S2"`
	Anchor      string  `table:"anchor,category" doc:"the point of a sound that is compared: centre, onset or offset"`
	ToleranceMS int32   `table:"tolerance_ms" unit:"ms" doc:"half-width of the tolerance, included"`
	TP          int32   `table:"tp" doc:"true positives: matched pairs"`
	FP          int32   `table:"fp" doc:"false positives: predicted events in scored time without a partner"`
	FN          int32   `table:"fn" doc:"false negatives: reference events without a partner"`
	Ignored     int32   `table:"ignored" doc:"predicted events outside scored time without a partner, which count neither way"`
	Precision   float64 `table:"precision,null" unit:"1" doc:"positive predictive value, TP/(TP+FP)"`
	Recall      float64 `table:"recall,null" unit:"1" doc:"sensitivity, TP/(TP+FN)"`
	F1          float64 `table:"f1,null" unit:"1" doc:"2TP/(2TP+FP+FN)"`
}

// Table implements Row.
func (Score) Table() Info {
	return Info{Name: "scores", Version: 1, Doc: "one row per recording, class, anchor and tolerance"}
}
