package pipeline

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/train"
)

// Where the table with the second ids of people cannot be read, what fits or
// scores refuses and says file, line, cause and remedy. With the refusal
// overruled, and in stages that do not score, the same stands beside all results.
func TestUnreadTables(t *testing.T) {
	src := villageCopy(t)
	path := filepath.Join(src.Data, "people.csv")
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	damaged := bytes.Replace(content, []byte("second_id"), []byte("second"), 1)
	if err := os.WriteFile(path, damaged, 0o644); err != nil {
		t.Fatal(err)
	}
	c := configFor(t, src)
	c.Method = "shannon-peaks"
	states := elsewhere(t, c)
	report, err := Segment(context.Background(), states, nil)
	if err != nil {
		t.Fatal(err)
	}
	warns := func(list []string) bool {
		return slices.ContainsFunc(list, func(w string) bool { return strings.Contains(w, `people.csv:1: no column "second_id"`) })
	}
	if !warns(report.Warnings) {
		t.Errorf("segment does not name the table: %q", report.Warnings)
	}

	fitted := elsewhere(t, c)
	fitted.Method = "logistic-hsmm"
	model := filepath.Join(t.TempDir(), "model.json")
	for what, do := range map[string]func(unread config.UnreadTables) error{
		"run": func(unread config.UnreadTables) error {
			c.UnreadTables = unread
			report, err = Run(context.Background(), c, nil)
			return err
		},
		"crossval": func(unread config.UnreadTables) error {
			cv := elsewhere(t, c)
			cv.UnreadTables, cv.Folds = unread, 2
			_, err := Crossval(context.Background(), cv, nil)
			return err
		},
		"fit": func(unread config.UnreadTables) error {
			fitted.UnreadTables = unread
			r, err := train.Fit(context.Background(), fitted, train.Target{Model: model, Date: "2026-02-03"}, nil)
			if err == nil && (!warns(r.Warnings) || !strings.Contains(r.Model.Remark, "people.csv:1")) {
				t.Errorf("fit: warnings %q, remark %q", r.Warnings, r.Model.Remark)
			}
			return err
		},
		"score": func(unread config.UnreadTables) error {
			scored := elsewhere(t, c)
			scored.UnreadTables = unread
			_, err := scoring.Score(context.Background(), scored, states.Out, nil)
			return err
		},
	} {
		err := do(config.RefuseUnreadTables)
		for _, want := range []string{`people.csv:1: no column "second_id"`, "people cannot be told apart", "--unread-tables accept"} {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v, want %q", what, err, want)
			}
		}
		if err := do(config.AcceptUnreadTables); err != nil {
			t.Errorf("%s with the table accepted: %v", what, err)
		}
	}

	var said struct{ Warnings []string }
	for _, name := range []string{rundir.SummaryFile, rundir.ManifestFile} {
		content, err := os.ReadFile(filepath.Join(c.Out, name))
		if err == nil {
			err = json.Unmarshal(content, &said)
		}
		if err != nil || !warns(said.Warnings) {
			t.Errorf("%s does not name the table: %q, %v", name, said.Warnings, err)
		}
	}
	if !warns(report.Warnings) {
		t.Errorf("run does not name the table: %q", report.Warnings)
	}
}
