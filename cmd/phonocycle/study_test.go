package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/printable"
)

// tinyStudy has a method that is not there.
const tinyStudy = `title: Tiny
data-sets: [{name: tiny, folder: tiny, layout: tiny/tiny.yaml}]
methods: [{name: peaks, method: shannon-peaks}, {name: absent, method: ./no-program.yaml}]
conditions:
  - clean
  - clip=0.1
designs: [{name: cv, cross-validate: tiny, folds: 2}]
scoring: {resamples: 50}
`

func testStudy(t *testing.T, c *commands) {
	writeFile(t, "tiny-study.yaml", tinyStudy)
	type state struct {
		Cell, Folder, Fault string
		Done                bool
	}
	out, _ := c.run(t, 0, "study tiny-study.yaml --out study --list")
	for _, want := range []string{"to do  cv/peaks/clip=0.1  (study/cells/tiny-states-crossval-shannon-peaks-clip=0.1-", "fails  cv/absent/clean  (", "4 cells: 0 done, 2 to do, 2 that fail as it is"} {
		if !strings.Contains(out, want) {
			t.Errorf("study --list prints no %q:\n%s", want, out)
		}
	}
	if _, err := os.Stat("study"); err == nil {
		t.Error("study --list has written")
	}
	if out, _ = c.run(t, 0, "study tiny-study.yaml --data . --out study --only peaks --only cl* --workers 1"); !strings.Contains(out, "2 cells: 2 done, of which 2 now, 0 failed") || !strings.Contains(out, "A part of the study") {
		t.Errorf("a part:\n%s", out)
	}
	out, _ = c.run(t, 0, "study tiny-study.yaml --out study --list --json")
	if states := decoded[[]state](t, out); len(states) != 4 || !states[0].Done || states[2].Fault == "" {
		t.Errorf("%+v", states)
	}
	done := 0
	for _, shard := range []string{"1/2", "2/2"} {
		out, _ = c.run(t, 3, "study tiny-study.yaml --out study --json --shard "+shard)
		r := decoded[struct {
			Cells, Done, Made int
			Failed            []struct{ Cell, Reason string }
		}](t, out)
		if r.Cells != 2 || r.Made != 0 || len(r.Failed) != 2-r.Done {
			t.Errorf("shard %s: %+v", shard, r)
		}
		done += r.Done
	}
	if done != 2 {
		t.Errorf("%d cells are done in all shards", done)
	}
	out, _ = c.run(t, 3, "study tiny-study.yaml --out study")
	for _, want := range []string{"4 cells: 2 done, of which 0 now, 2 failed", "failed cv/absent/clip=0.1: ", "no-program.yaml", "study/study.html", "not for diagnosis"} {
		if !strings.Contains(out, want) {
			t.Errorf("study prints no %q:\n%s", want, out)
		}
	}
	cell, err := filepath.Glob("study/cells/*-clean-*")
	if err != nil || len(cell) != 1 {
		t.Fatal(cell, err)
	}
	if _, err := os.Stat(filepath.Join(cell[0], "cycles")); err == nil {
		t.Error("a cell has features")
	}
	c.run(t, 0, "compare --results "+cell[0]+" --results peaks --resamples 50")
	c.run(t, 0, "report --results "+cell[0]+" --out study-report.html")

	writeFile(t, "faulty-study.yaml", strings.ReplaceAll(tinyStudy, "peaks", "packs"))
	for _, tt := range []struct {
		status     int
		args, want string
	}{
		{2, "study tiny-study.yaml", "give one with --out"},
		{2, "study --out study", "want one study"},
		{2, "study tiny-study.yaml --out study --only nobody", `"nobody"`},
		{2, "study tiny-study.yaml --out study --shard 3/2", "with i from 1 to n"},
		{2, "study tiny-study.yaml --out study --workers 0", "workers is 0"},
		{2, "study tiny-study.yaml --out tiny/study", "in which nothing is written"},
		{1, "study nobody --out study", "have readme, robustness"},
		{1, "study no-study.yaml --out study", "no-study.yaml: no such file"},
		{1, "study faulty-study.yaml --out study", "faulty-study.yaml:3:"},
		{1, "study tiny-study.yaml --out peaks", "is that of a run"},
	} {
		if _, stderr := c.run(t, tt.status, tt.args); !strings.Contains(stderr, tt.want) {
			t.Errorf("%s: %s, want %q", tt.args, stderr, tt.want)
		}
	}
}

// A study that is killed goes on with the same command, to the same bytes.
func TestStudyIsKilled(t *testing.T) {
	inTinyFolder(t)
	writeFile(t, "killed.yaml", strings.Replace(tinyStudy, "absent, method: ./no-program.yaml", "hmm, method: duration-hmm", 1))
	out := t.TempDir()
	study := func(name string) *exec.Cmd {
		return process(t, "study", "killed.yaml", "--out", filepath.Join(out, name))
	}
	started := time.Now()
	if printed, err := study("whole").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, printed)
	}
	whole := time.Since(started)
	for i := range 3 {
		ctx, cancel := context.WithTimeout(context.Background(), whole*time.Duration(i+1)/5)
		c := study("killed")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		stop := context.AfterFunc(ctx, func() { _ = c.Process.Kill() })
		_ = c.Wait()
		stop()
		cancel()
	}
	if printed, err := study("killed").CombinedOutput(); err != nil {
		t.Fatalf("after the kills: %v: %s", err, printed)
	}
	want, got := written(t, filepath.Join(out, "whole")), written(t, filepath.Join(out, "killed"))
	for name, content := range want {
		other := filepath.Join(out, "killed", strings.TrimPrefix(name, filepath.Join(out, "whole")))
		timed := []string{"study-cost.json", "study.html"}
		if !slices.Contains(timed, filepath.Base(name)) && !bytes.Equal(content, got[other]) {
			t.Errorf("%s differs after a kill", other)
		}
		delete(got, other)
	}
	for name := range got {
		t.Errorf("%s is left over", name)
	}
}

// A note does not break the line of the bar, and the bar counts what it is told.
func TestProgressOverCells(t *testing.T) {
	var screen bytes.Buffer
	b := &bar{notes: notes{&printable.Writer{To: &screen}}, screen: &screen, unit: "cells"}
	b.Start("study", 3)
	b.Step(1)
	b.Note("the first cell is done")
	b.Step(2)
	b.Done()
	b.Note("all are done")
	if text := screen.String(); !strings.Contains(text, "\rthe first cell is done\n") || !strings.Contains(text, "(1/3") || !strings.HasSuffix(text, "all are done\n") {
		t.Errorf("%q", text)
	}
}
