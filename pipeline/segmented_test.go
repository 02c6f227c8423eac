package pipeline

import (
	"context"
	"path/filepath"
	"phonocycle/pipeline/config"
	"testing"
	"time"

	"phonocycle/pipeline/synth"
)

// atRest writes n short recordings of people at rest.
func atRest(t *testing.T, n int) config.Input {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, n, 8*time.Second, 3); err != nil {
		t.Fatal(err)
	}
	return config.Input{Data: dir, Layout: filepath.Join(dir, "many.yaml")}
}

// segmented segments a source with a method into a folder of that name.
func segmented(t *testing.T, src config.Input, method string, change func(*config.Config)) string {
	t.Helper()
	c := configFor(t, src)
	c.Out, c.Method = filepath.Join(t.TempDir(), method), method
	if change != nil {
		change(&c)
	}
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	return c.Out
}
