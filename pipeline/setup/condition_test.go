package setup

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
)

// A condition is refused where it would change nothing: for a fit, and for a program that
// reads the audio files itself.
func TestConditionRefused(t *testing.T) {
	method := filepath.Join(t.TempDir(), "method.yaml")
	text := "name: reader\ntitle: reads files\ncitation: none\nsegment: [cat]\naudio: path\nanswers: intervals\n"
	if err := os.WriteFile(method, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		method string
		needs  Needs
		want   string
	}{
		{method, Needs{Method: true}, "method reader reads the audio files itself"},
		{"logistic-hsmm", Needs{Method: true, Fit: true}, "fit to the copy"},
	} {
		c := config.Default()
		c.Inputs = []config.Input{{Data: t.TempDir(), Layout: "plain"}}
		c.Method, c.Condition = tt.method, "bits=8"
		if _, err := New(c, "run", tt.needs); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.method, err, tt.want)
		}
	}
}
