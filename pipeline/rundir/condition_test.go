package rundir

import (
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/dataset"
)

// A score says how the audio was changed that was segmented: on disk, as it was read, or
// both, and to what audio the models of a
// cross-validation are fitted.
func TestAudioCondition(t *testing.T) {
	noisy := dataset.Changes{{Condition: "noise=pink,snr=5", Seed: 2}}
	read := &dataset.Change{Condition: "rate=500", Seed: 1}
	a, b := DataSet{Name: "a"}, DataSet{Name: "b", Condition: noisy}
	for _, tt := range []struct {
		plan       Plan
		want, data string
	}{
		{Plan{}, "", ""},
		{Plan{DataSets: []DataSet{a}}, "", ""},
		{Plan{DataSets: []DataSet{b}}, "noise=pink,snr=5 (seed 2)", "noise=pink,snr=5 (seed 2)"},
		{Plan{DataSets: []DataSet{a}, Condition: read}, "rate=500 (seed 1)", ""},
		{Plan{DataSets: []DataSet{b}, Condition: read}, "noise=pink,snr=5 (seed 2), then rate=500 (seed 1)", "noise=pink,snr=5 (seed 2)"},
		{Plan{DataSets: []DataSet{a, b}}, "a: as recorded; b: noise=pink,snr=5 (seed 2)", "a: as recorded; b: noise=pink,snr=5 (seed 2)"},
		{Plan{DataSets: []DataSet{a}, Condition: read, Origin: eval.CrossValidated}, "rate=500 (seed 1); the models are fitted to the audio as recorded", ""},
		{Plan{DataSets: []DataSet{b}, Condition: read, Origin: eval.CrossValidated},
			"noise=pink,snr=5 (seed 2), then rate=500 (seed 1); the models are fitted to the audio changed by noise=pink,snr=5 (seed 2)", "noise=pink,snr=5 (seed 2)"},
		{Plan{DataSets: []DataSet{b}, Origin: eval.CrossValidated}, "noise=pink,snr=5 (seed 2)", "noise=pink,snr=5 (seed 2)"},
	} {
		p := tt.plan.Provenance()
		if got := p.Condition; got != tt.want || tt.plan.DataCondition() != tt.data {
			t.Errorf("%q of data %q, want %q of %q", got, tt.plan.DataCondition(), tt.want, tt.data)
		}
		later := Plan{DataSets: []DataSet{{Name: "a"}, {Name: "b"}}[:len(tt.plan.DataSets)], Stage: StageScore}
		for i := range later.DataSets {
			later.DataSets[i].Name = tt.plan.DataSets[i].Name
		}
		later.SegmentedAs(&tt.plan)
		if got := later.AudioCondition(); got != tt.want {
			t.Errorf("scored later: %q, want %q", got, tt.want)
		}
	}
}
