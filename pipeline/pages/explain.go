package pages

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"phonocycle/eval/report"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
)

// minReferenceCycles is the number of whole cycles that a reference must have to
// be explained in place of a prediction.
const minReferenceCycles = 3

// ExplainOptions say what a teaching page shows.
type ExplainOptions struct {
	Recordings []string // ids, in the order of the page

	// States is reference, predicted or empty: the reference if it has three whole
	// cycles, otherwise the prediction of the method.
	States string

	// Starts are where the stretches begin that are drawn and played: one for all
	// recordings, or one for each. Without one a stretch has the most marked time.
	Starts []time.Duration
	Length time.Duration // of each stretch; 0 is [report.TeachingStretch]

	Quiz, Sheet bool // as in [report.TeachingPage]
}

// Limits of the length of a stretch: a beat, and what one screen can show.
const (
	minStretch = time.Second
	maxStretch = 30 * time.Second
)

// Check refuses options that no recording can meet.
func (o *ExplainOptions) Check() error {
	switch n := len(o.Recordings); {
	case n == 0:
		return errors.New("no recording: give its id with --recording")
	case n > report.MaxTeachingRecordings:
		return fmt.Errorf("%d recordings: a page compares at most %d", n, report.MaxTeachingRecordings)
	case o.States != "" && o.States != table.Reference && o.States != table.Predicted:
		return fmt.Errorf("states of %q: want %s or %s", o.States, table.Reference, table.Predicted)
	case len(o.Starts) > 1 && len(o.Starts) != n:
		return fmt.Errorf("%d times for --start and %d recordings: give one time for all, or one for each", len(o.Starts), n)
	case o.Length != 0 && (o.Length < minStretch || o.Length > maxStretch):
		return fmt.Errorf("--length %v: want %v to %v", o.Length, minStretch, maxStretch)
	case o.Quiz && o.Sheet:
		return errors.New("give --quiz or --sheet, not both: a worksheet hides the states on its first page")
	}
	for _, start := range o.Starts {
		if start < 0 {
			return fmt.Errorf("--start %v: a recording begins at 0s", start)
		}
	}
	return nil
}

// Explain makes the teaching page of recordings of the configured data sets.
func Explain(ctx context.Context, c config.Config, o ExplainOptions) (*report.TeachingPage, error) {
	if err := o.Check(); err != nil {
		return nil, fmt.Errorf("explain: %w", err)
	}
	c.Out = "-"                     // nothing is written, but a configuration needs a folder
	c.People, c.Recordings = "", "" // the recordings are named
	run, err := setup.New(c, "explain", setup.Needs{Method: true})
	if err != nil {
		return nil, fmt.Errorf("explain: %w", err)
	}
	defer run.Close()
	e := explainer{ExplainOptions: o, run: run}
	if e.waveforms, err = newWaveforms(); err != nil {
		return nil, err
	}
	e.Length = cmp.Or(o.Length, report.TeachingStretch)
	page := &report.TeachingPage{Stretch: e.Length, Quiz: o.Quiz, Sheet: o.Sheet}
	for i, id := range o.Recordings {
		entry, ok := run.Corpus.Find(id)
		if !ok {
			return nil, fmt.Errorf("explain: no recording %q in the data: %s", id, run.Corpus.Suggest(id))
		}
		r, err := e.recording(ctx, entry)
		if err == nil {
			err = e.stretch(r, i)
		}
		if err != nil {
			return nil, fmt.Errorf("explain: recording %s: %w", id, err)
		}
		page.Recordings = append(page.Recordings, *r)
	}
	return page, nil
}

// explainer reads the recordings of a teaching page.
type explainer struct {
	ExplainOptions
	run       *setup.Run
	waveforms *waveforms
}

// recording reads one recording and, unless its reference is explained, segments it.
func (x *explainer) recording(ctx context.Context, e *corpus.Entry) (*report.TeachingRecording, error) {
	if err := e.Unusable(); err != nil {
		return nil, err
	}
	row := x.run.Describe(e)
	loaded, err := x.run.NewLoader().Load(e, &row)
	if err != nil {
		return nil, err
	}
	layout, reference := e.Set.Layout, loaded.Reference.Intervals
	r := &report.TeachingRecording{
		Recording: e.ID, DataSet: strings.TrimSpace(layout.Title + " " + layout.Version), Citation: layout.Citation, Labels: labelsOf(e),
		States: reference, StatesBy: "the reference annotation of the data set", Length: loaded.Clip.Duration(),
	}
	if c := x.run.Plan.AudioCondition(); c != "" {
		r.DataSet += ", audio changed by " + c
	}
	cycles := len(report.WholeCycles(reference))
	switch {
	case x.States == table.Reference && cycles == 0:
		return nil, fmt.Errorf("the reference has no whole cycle: explain the prediction of a method, with --source %s", table.Predicted)
	case x.States == table.Predicted || x.States == "" && cycles < minReferenceCycles:
		r.StatesBy = "the method " + methodOn(x.run, e)
		if r.States, err = predict(ctx, x.run, e, &loaded, &row); err != nil {
			return nil, err
		}
	}
	r.Sound = x.waveforms.sound(&loaded)
	r.ECG, r.ECGText = ecgOf(e)
	return r, nil
}

// labelsOf returns what the data set says of a recording, in its own words.
func labelsOf(e *corpus.Entry) (labels []report.Fact) {
	add := func(name, value string) {
		if value != "" {
			labels = append(labels, report.Fact{Name: strings.ReplaceAll(name, "_", " "), Value: value})
		}
	}
	add("site", e.Recording.Site)
	for l := range e.Recording.Labels.All() {
		if l.Name != "site" {
			add(l.Name, l.Value)
		}
	}
	return labels
}

// stretch chooses the stretch of the recording with index i. One without a start is
// as long as the recording where this is shorter.
func (x *explainer) stretch(r *report.TeachingRecording, i int) error {
	if len(x.Starts) == 0 {
		r.From, r.To = report.Window(&pcg.Reference{Kind: pcg.IntervalReference, Intervals: r.States}, r.Length, x.Length)
		return nil
	}
	r.From = x.Starts[min(i, len(x.Starts)-1)]
	if r.To = r.From + x.Length; r.To > r.Length {
		return fmt.Errorf("%v from %v on are more than the recording has, which ends at %.2f s: give an earlier --start or a shorter --length", x.Length, r.From, r.Length.Seconds())
	}
	return nil
}

// methodOn says by what method a recording is segmented, and whether it was fitted on
// its person.
func methodOn(run *setup.Run, e *corpus.Entry) string {
	if known := run.InTrainingData(e); known != nil && *known {
		return run.Method.Name + ", fitted on recordings of this person too"
	}
	p := run.Plan.Provenance()
	p.LeftOut = 0 // people of other recordings
	return p.Words()
}

// predict segments a recording.
func predict(ctx context.Context, run *setup.Run, e *corpus.Entry, r *corpus.Loaded, row *table.Recording) (states []pcg.Interval, err error) {
	if run.Plan.Points {
		return nil, fmt.Errorf("method %s marks points, which do not say how long a state lasts: explain the states of another with --method", run.Method.Name)
	}
	segmenter, err := run.NewSegmenter()
	if err != nil {
		return nil, err
	}
	defer segmenter.Close()
	err = corpus.Guard("method "+run.Method.Name, func() (err error) {
		found, err := segmenter.Segment(ctx, e, r, row)
		states = found.Intervals
		return err
	})
	return states, err
}
