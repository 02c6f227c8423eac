package pages

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"phonocycle/pipeline"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/synth"
)

// demoFolder holds the data of the demo and runs over it, made when first needed
// and shared by the tests.
var demoFolder string

func TestMain(m *testing.M) {
	var err error
	if demoFolder, err = os.MkdirTemp("", "pages"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(demoFolder)
	os.Exit(code)
}

// demoInput returns the data of the demo.
func demoInput(t *testing.T) config.Input {
	t.Helper()
	data := filepath.Join(demoFolder, "recordings")
	if _, err := os.Stat(data); err != nil {
		if err := synth.WriteDemo(context.Background(), data, 2); err != nil {
			t.Fatal(err)
		}
	}
	return config.Input{Data: data, Layout: filepath.Join(data, synth.Demo().Name+".yaml")}
}

// demoRun returns the output folder of a run of a method over the demo.
func demoRun(t *testing.T, method string) string {
	t.Helper()
	c := config.Default()
	c.Inputs, c.Method, c.Out = []config.Input{demoInput(t)}, method, filepath.Join(demoFolder, method)
	c.Scoring.Resamples, c.PartSize = 200, 5
	if _, err := os.Stat(filepath.Join(c.Out, "manifest.json")); err == nil {
		return c.Out
	}
	if _, err := pipeline.Run(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	return c.Out
}
