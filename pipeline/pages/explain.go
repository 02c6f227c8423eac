package pages

import (
	"context"
	"fmt"
	"strings"

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

// Explain makes the teaching page of one recording of the configured data sets.
// states is reference, predicted or empty: the reference if it has three whole
// cycles, otherwise the prediction of the method.
func Explain(ctx context.Context, c config.Config, recording, states string) (*report.TeachingPage, error) {
	if states != "" && states != table.Reference && states != table.Predicted {
		return nil, fmt.Errorf("explain: states of %q: want %s or %s", states, table.Reference, table.Predicted)
	}
	c.Out = "-"                     // nothing is written, but a configuration needs a folder
	c.People, c.Recordings = "", "" // the recording is named
	run, err := setup.New(c, "explain", setup.Needs{Method: true})
	if err != nil {
		return nil, fmt.Errorf("explain: %w", err)
	}
	defer run.Close()
	e, ok := run.Corpus.Find(recording)
	if !ok {
		return nil, fmt.Errorf("explain: no recording %q in the data: %s", recording, run.Corpus.Suggest(recording))
	}
	page, err := teachingPage(ctx, run, e, states)
	if err != nil {
		return nil, fmt.Errorf("explain: recording %s: %w", recording, err)
	}
	return page, nil
}

// teachingPage reads one recording and, unless its reference is explained,
// segments it.
func teachingPage(ctx context.Context, run *setup.Run, e *corpus.Entry, states string) (*report.TeachingPage, error) {
	if err := e.Unusable(); err != nil {
		return nil, err
	}
	row := run.Describe(e)
	loaded, err := run.NewLoader().Load(e, &row)
	if err != nil {
		return nil, err
	}
	layout, reference := e.Set.Layout, loaded.Reference.Intervals
	page := &report.TeachingPage{
		Recording: e.ID, DataSet: strings.TrimSpace(layout.Title + " " + layout.Version), Citation: layout.Citation,
		States: reference, StatesBy: "the reference annotation of the data set", Length: loaded.Clip.Duration(),
	}
	if c := run.Plan.AudioCondition(); c != "" {
		page.DataSet += ", audio changed by " + c
	}
	cycles := len(report.WholeCycles(reference))
	switch {
	case states == table.Reference && cycles == 0:
		return nil, fmt.Errorf("the reference has no whole cycle: explain the prediction of a method, with --source %s", table.Predicted)
	case states == table.Predicted || states == "" && cycles < minReferenceCycles:
		page.StatesBy = "the method " + methodOn(run, e)
		if page.States, err = predict(ctx, run, e, &loaded, &row); err != nil {
			return nil, err
		}
	}
	waveforms, err := newWaveforms()
	if err != nil {
		return nil, err
	}
	page.Sound = waveforms.sound(&loaded)
	page.ECG, page.ECGText = ecgOf(e)
	return page, nil
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
