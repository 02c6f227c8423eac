package compare

import (
	"context"
	"errors"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/workers"
)

// AuditOptions say which references are audited.
type AuditOptions struct {
	Folders   []string // one or more output folders, on the same recordings and references
	Reference string   // that the folders must hold; empty for any

	// Inputs are the data sets of the folders, or empty. With them, findings about
	// order and gaps name the file and the line.
	Inputs []config.Input
}

// Audit lists the references that should be reviewed: by the reference itself, by
// the other recordings of the person and, given several folders, by the
// predictions of several methods.
func Audit(ctx context.Context, o AuditOptions, p workers.Progress) (*eval.Audit, error) {
	if len(o.Folders) == 0 {
		return nil, errors.New("give an output folder with --results")
	}
	folders, err := Open(o.Folders, nil, o.Reference)
	if err != nil {
		return nil, err
	}
	rules, err := folders[0].Rules()
	if err != nil {
		return nil, err
	}
	a, err := NewAuditor(folders, rules)
	if err != nil {
		return nil, err
	}
	p = workers.OrSilent(p)
	p.Start("audit", folders[0].Plan.Recordings())
	defer p.Done()
	for cases, err := range SideBySide(folders, nil) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return nil, err
		}
		a.Add(cases)
		p.Step(1)
	}
	return a.Audit(o.Inputs)
}

// Auditor audits recordings that are read side by side.
type Auditor struct {
	folders []*Folder
	auditor *eval.Auditor
}

// NewAuditor returns an auditor for recordings of the given folders.
func NewAuditor(folders []*Folder, rules eval.Rules) (*Auditor, error) {
	a, err := eval.NewAuditor(rules)
	return &Auditor{folders, a}, err
}

// Add adds one recording as all folders have it.
func (a *Auditor) Add(cases []*eval.Case) {
	var predictions []eval.Prediction
	for _, c := range cases {
		if !c.Failed && len(c.Predicted)+len(c.PredictedPoints) > 0 {
			predictions = append(predictions, eval.Prediction{Intervals: c.Predicted, Points: c.PredictedPoints})
		}
	}
	a.auditor.Add(*cases[0], predictions)
}

// Audit returns the findings. Given the data sets, findings about order and gaps
// have the file and line of the first such defect.
func (a *Auditor) Audit(inputs []config.Input) (*eval.Audit, error) {
	audit := a.auditor.Audit()
	if len(inputs) == 0 {
		return audit, nil
	}
	data, err := corpus.Open(inputs, corpus.Options{Reference: a.folders[0].Plan.Reference})
	if err != nil {
		return nil, err
	}
	defer data.Close()
	kinds := map[eval.AuditReason]dataset.Kind{eval.BrokenOrder: dataset.KindOrder, eval.Gaps: dataset.KindGap}
	for i := range audit.Findings {
		f := &audit.Findings[i]
		if kind, ok := kinds[f.Reason]; ok {
			f.Place = placeOfDefect(data, f.Recording, kind)
		}
	}
	return audit, nil
}

// placeOfDefect returns file and line of the first defect of a kind in the
// reference of a recording, or the empty string.
func placeOfDefect(data *corpus.Corpus, recording string, kind dataset.Kind) string {
	e, ok := data.Find(recording)
	if !ok || e.Recording.Reference == "" {
		return ""
	}
	for _, d := range e.Set.ReferenceDefects(e.Recording) {
		if d.Kind == kind {
			return d.Place()
		}
	}
	return ""
}
