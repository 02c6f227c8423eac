package config

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"phonocycle/pipeline/segment"
)

// What a plan says of the options can be given back as flags, key by key, and gives the
// same plan.
func TestOptionsOfAPlanAreFlags(t *testing.T) {
	flags := func(text json.RawMessage) (list []string) {
		var values map[string]json.RawMessage
		if err := json.Unmarshal(text, &values); err != nil {
			t.Fatal(err)
		}
		for key, value := range values {
			list = append(list, fmt.Sprintf("%s=%s", key, value))
		}
		return list
	}
	for _, m := range segment.Methods() {
		c := Default()
		c.Method = m.Name
		want, err := c.LoadFit()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.SetOptions(flags(want.Options)); err != nil {
			t.Fatal(err)
		}
		if m.Fit != nil {
			if err := c.SetFitOptions(flags(want.FitOptions)); err != nil {
				t.Fatal(err)
			}
		}
		got, err := c.LoadFit()
		if err != nil || string(got.Options) != string(want.Options) || string(got.FitOptions) != string(want.FitOptions) {
			t.Errorf("%s: %v\n%s %s\nwant %s %s", m.Name, err, got.Options, got.FitOptions, want.Options, want.FitOptions)
		}
	}
}

// The options of a fit are checked before any recording is read.
func TestOptionsAreChecked(t *testing.T) {
	for pair, want := range map[string]string{
		"peak-rate=0": "fit options of method conv-hsmm: peak-rate is 0: want 1e-09 to 1", "epochs=.nan": "epochs", "clip=.inf": "clip is +Inf: want 1e-09 to 1e+09",
		"front-end.bank.high-hz=600": "front-end.bank.high-hz is 600: want 0 to 500", "augmentation.nosie=1": `did you mean "noise"?`,
	} {
		c := Default()
		c.Method = "conv-hsmm"
		if err := c.SetFitOptions([]string{pair}); err != nil {
			t.Fatal(err)
		}
		if _, err := c.LoadFit(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", pair, err, want)
		}
	}
}
