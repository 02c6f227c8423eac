package pipeline

import (
	"context"
	"errors"
	"fmt"
	"iter"

	"phonocycle/eval"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
)

// Audit says whose references are looked at.
type Audit struct {
	Folders []string // one or more output folders, on the same recordings and references
	Names   []string // of the folders, by default their own

	// Sources is the data of the folders, or none. With it, findings about order
	// and gaps name the file and the line.
	Sources []Source
}

// AuditReferences lists the references that deserve a second look, by what they
// say themselves, by the other recordings of the person and, given several
// folders, by what methods say. It writes nothing.
func AuditReferences(ctx context.Context, a Audit, p Progress) (*eval.Audit, error) {
	if len(a.Folders) == 0 {
		return nil, errors.New("give an output folder with --results")
	}
	all, err := openAll(a.Folders, a.Names)
	if err != nil {
		return nil, err
	}
	rules, err := all[0].rules()
	if err != nil {
		return nil, err
	}
	auditor, err := eval.NewAuditor(rules)
	if err != nil {
		return nil, err
	}
	p = orSilent(p)
	p.Start("audit", all[0].plan.recordings())
	defer p.Done()
	for cases, err := range sideBySide(all) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return nil, err
		}
		var predictions []eval.Prediction
		for i, c := range cases {
			if !c.Failed && len(c.Predicted) > 0 {
				predictions = append(predictions, eval.Prediction{Method: all[i].name, Intervals: c.Predicted})
			}
		}
		auditor.Add(*cases[0], predictions)
		p.Step(1)
	}
	result := auditor.Audit()
	return result, placeFindings(result, a.Sources)
}

// sideBySide reads the same recording from all folders at a time, and refuses
// folders that differ in recordings or references.
func sideBySide(all []*results) iter.Seq2[[]*eval.Case, error] {
	return func(yield func([]*eval.Case, error) bool) {
		next := make([]func() (*eval.Case, error, bool), len(all))
		for i, r := range all {
			var stop func()
			next[i], stop = iter.Pull2(r.cases())
			defer stop()
		}
		for {
			cases := make([]*eval.Case, len(all))
			ended := 0
			for i := range all {
				c, err, ok := next[i]()
				if err != nil {
					yield(nil, err)
					return
				}
				if !ok {
					c = &eval.Case{}
					ended++
				}
				cases[i] = c
			}
			if ended == len(all) {
				return
			}
			if err := sameReference(all, cases); err != nil {
				yield(nil, err)
				return
			}
			if !yield(cases, nil) {
				return
			}
		}
	}
}

// sameReference makes sure that all folders speak of one recording and
// reference.
func sameReference(all []*results, cases []*eval.Case) error {
	for i, c := range cases[1:] {
		one, other := all[0].name, all[i+1].name
		if c.Recording != cases[0].Recording {
			return fmt.Errorf("folders %s and %s are not of the same recordings: %q stands against %q", one, other, cases[0].Recording, c.Recording)
		}
		if referenceSum(c) != referenceSum(cases[0]) {
			return fmt.Errorf("folders %s and %s have other references of recording %s", one, other, c.Recording)
		}
	}
	return nil
}

// placeFindings fills in the file and line of findings about order and gaps.
func placeFindings(a *eval.Audit, sources []Source) error {
	kinds := map[eval.Doubt]dataset.Kind{eval.BrokenOrder: dataset.KindOrder, eval.Gaps: dataset.KindGap}
	finder, err := openReferences(sources)
	if err != nil {
		return err
	}
	defer finder.close()
	for i := range a.Findings {
		f := &a.Findings[i]
		if kind, ok := kinds[f.Doubt]; ok {
			f.Place = finder.place(f, kind)
		}
	}
	return nil
}

// references finds the annotations of recordings in their data sets.
type references struct {
	sets       []*dataset.Set
	recordings map[string]located
}

// located is a recording and the set that it belongs to.
type located struct {
	set *dataset.Set
	rec *pcg.Recording
}

func openReferences(sources []Source) (*references, error) {
	r := &references{recordings: map[string]located{}}
	for _, src := range sources {
		layout, err := dataset.LoadLayout(src.Layout)
		if err != nil {
			r.close()
			return nil, err
		}
		set, err := dataset.Open(src.Data, layout)
		if err != nil {
			r.close()
			return nil, err
		}
		r.sets = append(r.sets, set)
		prefix := sourcePrefix(len(sources), layout.Name)
		for i := range set.Recordings {
			rec := &set.Recordings[i]
			r.recordings[prefix+rec.ID] = located{set, rec}
		}
	}
	return r, nil
}

func (r *references) close() {
	for _, s := range r.sets {
		s.Close()
	}
}

// place returns file and line of the first defect of a kind in the reference of
// the finding's recording, or the empty string.
func (r *references) place(f *eval.Finding, kind dataset.Kind) string {
	at, ok := r.recordings[f.Recording]
	if !ok || at.rec.Reference == "" {
		return ""
	}
	for _, d := range at.set.ReferenceDefects(at.rec) {
		if d.Kind == kind {
			return d.Place()
		}
	}
	return ""
}
