package eval

import (
	"encoding/json"
	"strings"
	"testing"
)

// Each origin is said in the same words everywhere.
func TestProvenanceWords(t *testing.T) {
	trained := TrainedOn{DataSet: "CirCor 1.0.3", People: 151, Recordings: 480, Digest: strings.Repeat("0123456789abcdef", 4)}
	const fitted = "fitted on 151 people of CirCor 1.0.3 (data 0123456789ab)"
	for _, tt := range []struct {
		p    Provenance
		want string
	}{
		{Provenance{Origin: CrossValidated, Folds: 10, FoldSeed: 1}, "cross-validated, 10 folds by person, seed 1"},
		{Provenance{Origin: CrossValidated, Folds: 5, MostPeople: 20}, "cross-validated, 5 folds by person, seed 0, each fitted on 20 people at most"},
		{Provenance{Origin: FittedElsewhere, TrainedOn: trained}, "fitted on 151 other people of CirCor 1.0.3 (data 0123456789ab)"},
		{Provenance{Origin: FittedElsewhere, TrainedOn: TrainedOn{People: 1}}, "fitted on 1 other person"},
		{Provenance{Origin: FittedElsewhere, TrainedOn: trained, LeftOut: 121}, fitted + ", 121 of these people left out"},
		{Provenance{Origin: FittedOnThese, TrainedOn: trained, Trained: 121}, fitted + ", 121 of whom are scored"},
		{Provenance{Origin: NotFitted}, "not fitted"},
		{Provenance{Origin: MadeElsewhere}, "made elsewhere, training data not declared"},
		{Provenance{Origin: MadeElsewhere, Declared: NotFitted}, "made elsewhere, declared as not fitted"},
		{Provenance{Origin: MadeElsewhere, Declared: FittedElsewhere, TrainedOn: TrainedOn{People: 40}}, "made elsewhere, declared as fitted on 40 other people"},
		{Provenance{Origin: MadeElsewhere, Declared: CrossValidated, Folds: 3, LeftOut: 1}, "made elsewhere, declared as cross-validated, 3 folds by person, 1 person of all training sets left out"},
		{Provenance{Origin: MadeElsewhere, Declared: CrossValidated, Folds: 3, Trained: 2}, "made elsewhere, declared as cross-validated, 3 folds by person, 2 people of all training sets scored"},
		{Provenance{Origin: MadeElsewhere, Declared: CrossValidated, Folds: 3}, "made elsewhere, declared as cross-validated, 3 folds by person"},
		{Provenance{Origin: MadeElsewhere, Declared: CrossValidated, Folds: 10, FoldSeed: 1, FoldsFrom: "cv"}, "made elsewhere, declared as cross-validated, 10 folds by person, seed 1, folds of cv"},
		{Provenance{}, ""},
	} {
		if got := tt.p.Short(); got != tt.want {
			t.Errorf("short: %q, want %q", got, tt.want)
		}
		tt.p.Method = "a-method"
		if got, want := tt.p.Words(), strings.TrimSuffix("a-method, "+tt.want, ", "); got != want {
			t.Errorf("words: %q, want %q", got, want)
		}
	}
	p := Provenance{Method: "m", Origin: NotFitted, Condition: "noise at 10 dB", FitReference: "hand", People: "dev (1a2b)", Recordings: "ids.txt (3c4d)"}
	if got, want := p.Words(), "m, not fitted, on audio changed by noise at 10 dB, fitted to the reference hand, people of the list dev (1a2b), recordings of the list ids.txt (3c4d)"; got != want {
		t.Errorf("words: %q, want %q", got, want)
	}
}

// Options are printed as the command line takes them, and an empty provenance is
// not written.
func TestProvenanceDetails(t *testing.T) {
	p := Provenance{
		Method: "m", Title: "A method", People: "dev (1a2b)", Origin: CrossValidated, Folds: 2, FoldSeed: 7,
		Options: json.RawMessage(`{"cut-off":8.50,"timing":{"s1":{"sd":0.02},"s2":0.1},"name":"a b","on":true}`), FitOptions: json.RawMessage(`{"seed":12345678901234567890}`),
	}
	want := []Rule{
		{"Method", "m, A method"}, {"Options", "cut-off=8.50, timing.s1.sd=0.02, timing.s2=0.1, name=a b, on=true"}, {"Fit options", "seed=12345678901234567890"},
		{"Origin", "cross-validated, 2 folds by person, seed 7"}, {"People", "dev (1a2b)"},
	}
	got := p.Details()
	if len(got) != len(want) {
		t.Fatalf("details %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("detail %v, want %v", got[i], want[i])
		}
	}
	content, err := json.Marshal(&p)
	if err != nil {
		t.Fatal(err)
	}
	if text, want := string(content), `{"method":"m","title":"A method","options":{"cut-off":8.50,"timing":{"s1":{"sd":0.02},"s2":0.1},"name":"a b","on":true},"fit_options":{"seed":12345678901234567890},"origin":"cross-validated","folds":2,"fold_seed":7,"people":"dev (1a2b)"}`; text != want {
		t.Errorf("JSON %s, want %s", text, want)
	}
	if content, err = json.Marshal(struct {
		P Provenance `json:"p,omitzero"`
	}{}); err != nil || string(content) != "{}" {
		t.Errorf("empty: %s, %v", content, err)
	}
}
