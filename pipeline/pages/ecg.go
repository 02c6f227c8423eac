package pages

import (
	"errors"
	"time"

	"phonocycle/eval"
	"phonocycle/eval/report"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
)

// ecgOf returns the ECG of a recording as a page draws it, empty where the data set
// has none, and what the page says of it. An ECG that cannot be read is no reason to
// write no page.
func ecgOf(e *corpus.Entry) (drawn report.ECG, text string) {
	found, err := e.Set.ECG(e.Recording)
	switch {
	case errors.Is(err, dataset.ErrNoECG):
		return drawn, ""
	case err != nil:
		return drawn, "cannot be read: " + err.Error()
	}
	return report.ECG{Wave: found.Wave, Rate: found.Rate, RWaves: found.RWaves}, found.File
}

// rToS1 returns a count of the times from R to S1 for a run that is scored against an
// ECG, nil for any other and for one whose data sets differ in the delay from R to S1.
func rToS1(p *rundir.Plan) *report.RToS1 {
	first := &p.DataSets[0]
	for _, s := range p.DataSets {
		if s.ReferenceKind != pcg.ECGReference || s.ReferenceDelay != first.ReferenceDelay {
			return nil
		}
	}
	return report.NewRToS1(first.ReferenceDelay)
}

// addBeats adds the beats of a case.
func addBeats(b *report.RToS1, c *eval.Case) {
	var reference, predicted []time.Duration
	for _, p := range c.Reference.Points {
		reference = append(reference, p.At)
	}
	for _, iv := range c.Predicted {
		if iv.State == pcg.S1 && !c.Failed {
			predicted = append(predicted, iv.Centre())
		}
	}
	for _, p := range c.PredictedPoints {
		if p.Sound == pcg.S1 && !c.Failed {
			predicted = append(predicted, p.At)
		}
	}
	b.Add(reference, predicted)
}
