package rundir

import (
	"encoding/json"
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
)

// The provenance of a plan says what becomes of people of the training data, and that
// of a scoring of its states what made them.
func TestProvenanceOfPlans(t *testing.T) {
	made := Plan{
		Config: config.Config{Method: "m", Folds: 10, FoldSeed: 1, Overlap: config.RefuseOverlap}, MethodTitle: "A method",
		Options: json.RawMessage(`{"a":1}`), FitOptions: json.RawMessage(`{"b":2}`), ModelDigest: "12", Reference: "hand",
	}
	with := func(change func(*Plan)) *Plan {
		p := made
		change(&p)
		return &p
	}
	trained := eval.TrainedOn{People: 7, DataSet: "A set"}
	for _, tt := range []struct {
		plan *Plan
		want string
	}{
		{with(func(p *Plan) { p.Origin = eval.CrossValidated }), "m, cross-validated, 10 folds by person, seed 1"},
		{with(func(p *Plan) { p.Origin = eval.NotFitted }), "m, not fitted"},
		{with(func(p *Plan) { p.Origin, p.TrainedOn = eval.FittedElsewhere, trained }), "m, fitted on 7 other people of A set"},
		{with(func(p *Plan) {
			p.Origin, p.TrainedOn, p.TrainingOverlap, p.Config.Overlap = eval.FittedElsewhere, trained, 3, config.LeaveOutOverlap
		}), "m, fitted on 7 people of A set, 3 of these people left out"},
		{with(func(p *Plan) {
			p.Origin, p.TrainedOn, p.TrainingOverlap, p.Config.Overlap = eval.FittedElsewhere, trained, 3, config.ScoreOverlap
		}), "m, fitted on 7 people of A set, 3 of whom are scored"},
		{with(func(p *Plan) { p.Origin = eval.MadeElsewhere }), "m, made elsewhere, training data not declared"},
		{with(func(p *Plan) {
			p.Origin, p.Declared, p.TrainedOn, p.TrainingOverlap, p.Config.Overlap = eval.MadeElsewhere, eval.FittedElsewhere, trained, 3, config.ScoreOverlap
		}), "m, made elsewhere, declared as fitted on 7 people of A set, 3 of whom are scored"},
		{with(func(p *Plan) {
			p.Origin, p.Declared, p.FoldsFrom = eval.MadeElsewhere, eval.CrossValidated, "cv"
		}), "m, made elsewhere, declared as cross-validated, 10 folds by person, seed 1, folds of cv"},
	} {
		p := tt.plan.Provenance()
		if got := p.Words(); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
		scoring := Plan{Reference: "hand", Config: config.Config{Folds: 10, FoldSeed: 1, Overlap: tt.plan.Config.Overlap}, TrainingOverlap: tt.plan.TrainingOverlap}
		scoring.SegmentedAs(tt.plan)
		if s := scoring.Provenance(); s.Words() != p.Words() || s.Title != p.Title || string(s.FitOptions) != string(p.FitOptions) || string(s.Options) != string(p.Options) || s.Model != p.Model {
			t.Errorf("scored again: %+v, want %+v", s, p)
		}
	}
	ecg := Plan{Reference: "ecg"}
	ecg.SegmentedAs(with(func(p *Plan) { p.Origin = eval.CrossValidated }))
	if p := ecg.Provenance(); p.FitReference != "hand" || p.Reference != "ecg" {
		t.Errorf("against another reference: %+v", p)
	}
}
