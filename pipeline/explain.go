package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"time"

	"phonocycle/eval/report"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table"
)

// fewestCycles is how many whole cycles a reference must mark to be explained by
// in place of a method.
const fewestCycles = 3

// lessonWidth is how much of a recording the teaching page shows: few enough beats
// that the last row of a lecture hall sees each.
const lessonWidth = 5 * time.Second

// Explain makes the teaching page of one recording of the configured data sets.
// states says whose states are explained: those of the reference, those that the
// method predicts, or, if empty, those of the reference where it marks three whole
// cycles and else of the method.
func Explain(ctx context.Context, c Config, recording, states string) (*report.Lesson, error) {
	if states != "" && states != table.Reference && states != table.Predicted {
		return nil, fmt.Errorf("explain: states of %q: want %s or %s", states, table.Reference, table.Predicted)
	}
	c.Out = "-" // nothing is written, and a job wants a folder
	j, err := newJob(c, stage{name: "explain", segments: true})
	if err != nil {
		return nil, fmt.Errorf("explain: %w", err)
	}
	defer j.close()
	e, ok := j.entry(recording)
	if !ok {
		return nil, fmt.Errorf("explain: no recording %q in the data: %s", recording, j.suggest(recording))
	}
	lesson, err := j.lesson(ctx, e, states)
	if err != nil {
		return nil, fmt.Errorf("explain: recording %s: %w", recording, err)
	}
	return lesson, nil
}

// suggest names recordings whose ids begin like the given one, or the first few.
func (j *job) suggest(id string) string {
	const most = 5
	for n := len(id); n >= 0; n-- {
		var like []string
		for i := range j.entries {
			if strings.HasPrefix(j.entries[i].id, id[:n]) && len(like) < most {
				like = append(like, j.entries[i].id)
			}
		}
		if len(like) > 0 {
			return "there are " + strings.Join(like, ", ") + " and others; scan --json lists all"
		}
	}
	return "it holds none; check --data and --layout"
}

// lesson segments and measures one recording.
func (j *job) lesson(ctx context.Context, e *entry, states string) (*report.Lesson, error) {
	engine, err := newEngine(j)
	if err != nil {
		return nil, err
	}
	out := engine.process(ctx, e, nil)
	if out.recording.Outcome != table.Done {
		return nil, fmt.Errorf("%s: %s", out.recording.Outcome, out.recording.Reason)
	}
	marked, marking, err := chooseStates(&out, states)
	if err != nil {
		return nil, err
	}
	content, err := e.set.ReadFile(e.recording.Audio)
	if err != nil {
		return nil, err
	}
	layout := e.set.Layout
	l := &report.Lesson{
		Recording: e.id, DataSet: strings.TrimSpace(layout.Title + " " + layout.Version), Citation: layout.Citation, Marking: marking,
		Cycles: report.WholeCycles(marked),
		View:   report.View{Recording: e.id, Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: marked}, MarkedBy: "states"},
	}
	l.View.From, l.View.To = report.Window(&l.View.Reference, *out.recording.Duration, lessonWidth)
	return l, newListener(j).teach(content, l)
}

// chooseStates returns the intervals to explain and who marked them.
func chooseStates(out *output, states string) (marked []pcg.Interval, marking string, err error) {
	var reference, predicted []pcg.Interval
	for i := range out.states {
		row := &out.states[i]
		if row.IsPoint() {
			continue
		}
		iv, err := row.Interval()
		if err != nil {
			return nil, "", err
		}
		if row.Source == table.Predicted {
			predicted = append(predicted, iv)
		} else {
			reference = append(reference, iv)
		}
	}
	whole := len(report.WholeCycles(reference))
	if states == table.Reference && whole == 0 {
		return nil, "", fmt.Errorf("the reference marks no whole cycle; explain it by a method, with --states %s", table.Predicted)
	}
	if states == table.Reference || (states == "" && whole >= fewestCycles) {
		return reference, "the reference annotation of the data set", nil
	}
	return predicted, "the method " + out.recording.Method, nil
}

// teach fills in what a lesson shows of the content of its audio file.
func (l *listener) teach(content []byte, lesson *report.Lesson) error {
	if err := l.listen(content, &lesson.View); err != nil {
		return err
	}
	clip, err := l.decoder.Decode(bytes.NewReader(content))
	if err != nil {
		return err
	}
	wave := l.sound.Resample(nil, clip.Samples, clip.Rate)
	lesson.Average = report.NewAverage(lesson.Cycles, wave, soundRate, l.envelopeOf(clip), AnalysisRate)
	return nil
}

// WriteLesson writes a teaching page to a file.
func WriteLesson(lesson *report.Lesson, path string) error { return writeDocument(path, lesson) }
