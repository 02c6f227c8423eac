package pipeline

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
)

// A run whose references or labels have changed since a part was made does not go
// on: neither resume nor merge makes tables of two versions of the data. Both name
// the recording and the file.
func TestChangedReferencesAndLabels(t *testing.T) {
	src := villageCopy(t)
	c := configFor(t, src)
	c.Method = "shannon-peaks"
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	merge := func(inputs []config.Input) error {
		_, err := Merge(context.Background(), c.Out, config.Config{Inputs: inputs, Workers: 2}, nil)
		return err
	}
	plan, err := rundir.ReadPlan(c.Out)
	if err != nil {
		t.Fatal(err)
	}
	last := table.PartsOf[table.Recording](c.Out).Path(plan.Parts() - 1)
	lastPart, err := os.ReadFile(last)
	if err != nil {
		t.Fatal(err)
	}
	var first table.Recording // with a reference
	for _, row := range recordingsOf(t, c.Out) {
		if row.ReferenceDigest != "" && row.LabelsDigest != "" {
			first = row
			break
		}
	}
	annotation := strings.TrimSuffix(first.Audio, ".wav") + ".csv"
	c.Resume = true
	for _, tt := range []struct{ what, file, from, to, want string }{
		{"a reference", annotation, "systole", "diastole", annotation + " has changed"},
		{"a label", "people.csv", "female", "male", "people.csv"},
	} {
		path := filepath.Join(src.Data, tt.file)
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		changed := bytes.Replace(content, []byte(tt.from), []byte(tt.to), 1)
		if bytes.Equal(content, changed) {
			t.Fatalf("%s has no %q", tt.file, tt.from)
		}
		if err := os.WriteFile(path, changed, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := merge([]config.Input{src}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s changed: merge: %v, want %q", tt.what, err, tt.want)
		}
		for _, name := range []string{last, filepath.Join(c.Out, rundir.ManifestFile)} {
			if err := os.Remove(name); err != nil {
				t.Fatal(err)
			}
		}
		_, err = Segment(context.Background(), c, nil)
		for _, want := range []string{tt.want, first.Recording} {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s changed: resume: %v, want %q", tt.what, err, want)
			}
		}
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(last, lastPart, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Segment(context.Background(), c, nil); err != nil {
			t.Errorf("%s as it was: resume: %v", tt.what, err)
		}
	}
	if err := merge([]config.Input{src}); err != nil {
		t.Errorf("unchanged data: %v", err)
	}
	if err := merge(nil); err != nil {
		t.Errorf("without the data: %v", err)
	}
}
