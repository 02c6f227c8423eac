package rundir

import (
	"cmp"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
)

// Provenance says how the scores of the plan arise. This is the one place that makes
// it: screens, summaries, captions and pages print what it says.
func (p *Plan) Provenance() eval.Provenance {
	v := eval.Provenance{
		Method: p.Config.Method, Title: p.MethodTitle, Options: p.Options, FitOptions: p.FitOptions, Program: p.MethodDigest, Model: p.ModelDigest,
		Reference: p.Reference, FitReference: p.FitReference,
		Origin: p.Origin, Declared: p.Declared, TrainedOn: p.TrainedOn, Condition: p.AudioCondition(),
	}
	if p.Origin == eval.CrossValidated || p.Declared == eval.CrossValidated {
		v.Folds, v.FoldSeed, v.FoldsFrom, v.MostPeople = p.Config.Folds, p.Config.FoldSeed, p.FoldsFrom, p.Config.MostPeople
	}
	for _, list := range p.Selection {
		switch list.Of {
		case OfPeople:
			v.People = list.String()
		case OfRecordings:
			v.Recordings = list.String()
		}
	}
	if p.TrainingOverlap > 0 {
		p.addOverlap(&v)
	}
	return v
}

// addOverlap says what happens to people of the training data.
func (p *Plan) addOverlap(v *eval.Provenance) {
	if p.Config.Overlap != config.ScoreOverlap {
		v.LeftOut = p.TrainingOverlap
		return
	}
	v.Trained = p.TrainingOverlap
	for _, origin := range []*eval.Origin{&v.Origin, &v.Declared} {
		if *origin == eval.FittedElsewhere {
			*origin = eval.FittedOnThese
		}
	}
}

// SegmentedAs makes p a plan that scores the states that another plan made, against
// its own reference.
func (p *Plan) SegmentedAs(was *Plan) {
	p.Config.Method, p.Config.Model, p.MethodTitle, p.MethodCitation = was.Config.Method, was.Config.Model, was.MethodTitle, was.MethodCitation
	p.Options, p.FitOptions, p.MethodDigest, p.ModelDigest = was.Options, was.FitOptions, was.MethodDigest, was.ModelDigest
	p.Origin, p.Declared, p.FoldsFrom, p.TrainedOn = was.Origin, was.Declared, was.FoldsFrom, was.TrainedOn
	p.Condition = was.Condition
	for i := range p.DataSets { // the audio that was segmented, which may be that of a copy
		for _, s := range was.DataSets {
			if s.Name == p.DataSets[i].Name {
				p.DataSets[i].Condition = s.Condition
			}
		}
	}
	if fit := cmp.Or(was.FitReference, was.Reference); p.Origin == eval.CrossValidated && fit != p.Reference {
		p.FitReference = fit
	}
}
