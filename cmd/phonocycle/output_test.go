package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// hearts copies a data set and the results of a run over it to a new folder, which
// is the current one of the test.
func hearts(t *testing.T) {
	t.Helper()
	inTinyFolder(t)
	here := t.TempDir()
	for _, name := range []string{"tiny", "peaks"} {
		if err := os.CopyFS(filepath.Join(here, name), os.DirFS(name)); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(here)
}

// What others made stays as it is, wherever a command would write, unless
// --overwrite is given; nothing is ever written into a data set.
func TestForeignFilesStay(t *testing.T) {
	hearts(t)
	const mine = "my notes"
	source := []string{"--data", "tiny", "--layout", "tiny/tiny.yaml"}
	explain := append([]string{"explain", "--recording", "t1_aortic", "--out", "f/page.html"}, source...)
	for _, tt := range []struct {
		file string
		args []string
	}{
		{"f/report.html", []string{"report", "--results", "peaks", "--out", "f/report.html"}},
		{"f/scores.csv", []string{"report", "--results", "peaks", "--out", "other.html", "--tables", "f"}},
		{"f/model.json", append([]string{"fit", "--method", "duration-hmm", "--model-out", "f/model.json"}, source...)},
		{"f/page.html", explain},
		{"f/summary.json", []string{"score", "--states", "peaks", "--out", "f"}},
	} {
		writeFile(t, tt.file, mine)
		status, _, stderr := call(t, tt.args...)
		if content, _ := os.ReadFile(tt.file); status != 1 || string(content) != mine || !strings.Contains(stderr, "--overwrite") {
			t.Errorf("%v: status %d, %q; the file holds %.20q", tt.args, status, stderr, content)
		}
		status, _, stderr = call(t, append(tt.args, "--overwrite")...)
		if content, _ := os.ReadFile(tt.file); status != 0 || string(content) == mine {
			t.Errorf("%v --overwrite: status %d, %q", tt.args, status, stderr)
		}
	}
	if status, _, stderr := call(t, explain...); status != 0 {
		t.Errorf("a page of ours is not replaced: %s", stderr)
	}
	inside := "tiny/recordings/t1_aortic.csv"
	before, _ := os.ReadFile(inside)
	for _, args := range [][]string{
		append([]string{"explain", "--recording", "t1_aortic", "--overwrite", "--out", inside}, source...),
		append([]string{"run", "--overwrite", "--out", "tiny/results"}, source...),
		append([]string{"fit", "--overwrite", "--model-out", "tiny/model.json"}, source...),
		append([]string{"report", "--results", "peaks", "--overwrite", "--out", "tiny/people.csv"}, source...),
	} {
		if status, _, stderr := call(t, args...); status != 2 || !strings.Contains(stderr, "folder of the data set") {
			t.Errorf("%v: status %d, %q", args, status, stderr)
		}
	}
	if after, err := os.ReadFile(inside); err != nil || !bytes.Equal(before, after) {
		t.Error("an annotation was overwritten")
	}
}

// --overwrite replaces a folder that a run made, and no other.
func TestOverwriteFolder(t *testing.T) {
	hearts(t)
	again := []string{"segment", "--data", "tiny", "--layout", "tiny/tiny.yaml", "--out", "peaks"}
	if status, _, stderr := call(t, again...); status != 1 || !strings.Contains(stderr, "--overwrite") {
		t.Errorf("status %d, %q", status, stderr)
	}
	notes := filepath.Join("peaks", "notes.txt")
	writeFile(t, notes, "")
	again = append(again, "--overwrite")
	if status, _, stderr := call(t, again...); status != 1 || !strings.Contains(stderr, "notes.txt") {
		t.Errorf("with a foreign file: status %d, %q", status, stderr)
	}
	if _, err := os.Stat(filepath.Join("peaks", "summary.json")); err != nil {
		t.Errorf("something was removed though a file is foreign: %v", err)
	}
	if err := os.Remove(notes); err != nil {
		t.Fatal(err)
	}
	if status, _, stderr := call(t, again...); status != 0 {
		t.Errorf("status %d, %q", status, stderr)
	}
	if _, err := os.Stat(filepath.Join("peaks", "summary.json")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the summary of the run before is still there: %v", err)
	}
}

// fullDisk takes nothing.
type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

func TestStandardOutputFails(t *testing.T) {
	hearts(t)
	for _, args := range [][]string{
		{"score", "--states", "peaks", "--out", "peaks"}, {"scan", "--data", "tiny", "--layout", "tiny/tiny.yaml"}, {"dictionary"}, {"run", "--help"},
		{"csv", "--table", "peaks/people"}, {"audit", "--results", "peaks", "--json"},
	} {
		var stderr bytes.Buffer
		if status := execute(context.Background(), args, fullDisk{}, &stderr); status != 1 || !strings.Contains(stderr.String(), "no space left") {
			t.Errorf("%v: status %d, %q", args, status, stderr.String())
		}
	}
}

// No name, label or title reaches a terminal with what the terminal would act on.
func TestPrintedTextIsHarmless(t *testing.T) {
	t.Chdir(t.TempDir())
	const nasty = "\x1b]0;x\x07\x7f\u009b\u202e\u2066\u200f\u061c"
	for i := range 2 {
		writeHeart(t, i, "d/recordings/"+string("ab"[i])+".wav")
	}
	writeFile(t, "d/people.csv", "recording,group\na,"+nasty+"\nb,plain\n")
	writeFile(t, "d/l.yaml", `name: d
title: "A \u001b]0;x\u0007 title"
version: "1"
citation: none
licence: none
source: made
audio: {include: [recordings/*.wav]}
recording: {patterns: ['recordings/(?P<id>\w+)\.wav']}
tables:
  - {path: people.csv, header: present, key: recording, match: id, labels: [{name: group, column: group}]}
`)
	for _, args := range [][]string{
		{"scan", "--data", "d", "--layout", "d/l.yaml"}, {"scan", "--data", "d", "--layout", "d/l.yaml", "--json"},
		{"run", "--data", "d", "--layout", "d/l.yaml", "--out", "o", "--method", "shannon-peaks"},
		{"run", "--data", nasty, "--layout", "d/l.yaml", "--out", "p"},
	} {
		status, stdout, stderr := call(t, args...)
		if args[0] == "scan" && (status != 0 || !strings.Contains(stdout, "x1b") && !strings.Contains(stdout, "u001b")) {
			t.Errorf("%v: status %d: %s%s", args, status, stdout, stderr)
		}
		if i := strings.IndexAny(stdout+stderr, nasty[:1]+nasty[5:]); i >= 0 {
			t.Errorf("%v: %.60q", args, (stdout + stderr)[i:])
		}
	}
}

func TestMessages(t *testing.T) {
	hearts(t)
	source := []string{"--data", "tiny", "--layout", "tiny/tiny.yaml", "--out", "new"}
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"run", "--workers", "abc"}, "--workers abc: want a whole number; see"},
		{[]string{"run", "--channel", "99999999999999999999"}, "the number is too large"},
		{[]string{"run", "--resume=maybe"}, "want true or false"},
		{[]string{"leakage", "--l2", "x"}, "--l2 x: want a number"},
		{[]string{"synth", "--length", "x"}, "such as 5s or 2m"},
		{[]string{"run", "--wokers", "3"}, "did you mean --workers?"},
		{[]string{"run", "-x"}, "unknown option -x"},
		{[]string{"run", "--data"}, "option --data has no value: write --data FOLDER"},
		{[]string{"runn"}, `unknown command "runn": did you mean run?`},
		{[]string{"zzzzzz"}, "there are audit, choose, compare"},
		{[]string{"run", "tiny"}, `argument "tiny" belongs to no option`},
		{append([]string{"run", "--strata", "sx"}, source...), `no recording has a property "sx": valid names are`},
		{[]string{"score", "--states", "peaks", "--out", "new", "--strata", "sx"}, "valid names are"},
		{[]string{"csv", "--table", "peaks/recordings", "--columns", "recordng"}, `did you mean "recording"?`},
		{append([]string{"run", "--resume", "--overwrite"}, source...), "not both"},
	} {
		status, _, stderr := call(t, tt.args...)
		if status == 0 || !strings.Contains(stderr, tt.want) || strings.Contains(stderr, "strconv") || strings.Contains(stderr, "pflag") {
			t.Errorf("%v: status %d, %q lacks %q", tt.args, status, stderr, tt.want)
		}
	}
	if _, err := os.Stat("new"); err == nil {
		t.Error("a misspelt label was noticed only after the run had begun")
	}
}

func TestInterrupt(t *testing.T) {
	t.Chdir(t.TempDir())
	ctx, cancel := context.WithTimeout(context.Background(), time.Hour)
	cancel()
	var stdout, stderr bytes.Buffer
	status := execute(ctx, []string{"synth", "--many", "4", "--out", "many"}, &stdout, &stderr)
	if got := stderr.String(); status != 1 || !strings.Contains(got, "interrupted") || strings.Contains(got, "context") {
		t.Errorf("status %d, %q", status, got)
	}
}

func TestNothingScored(t *testing.T) {
	t.Chdir(t.TempDir())
	writeHeart(t, 1, "d/a.wav")
	status, stdout, stderr := call(t, "run", "--data", "d", "--layout", "plain", "--out", "o", "--method", "shannon-peaks")
	if status != 0 || !strings.Contains(stdout, "nothing is scored") || strings.Contains(stdout, "Scores at") || strings.Count(stdout, "–") > 3 {
		t.Errorf("status %d: %s%s", status, stdout, stderr)
	}
}
