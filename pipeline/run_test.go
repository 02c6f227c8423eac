package pipeline

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

func configFor(t *testing.T, src config.Input) config.Config {
	t.Helper()
	c := defaultConfig(src)
	c.Out = filepath.Join(t.TempDir(), "out")
	return c
}

func defaultConfig(src config.Input) config.Config {
	c := config.Default()
	c.Inputs = []config.Input{src}
	c.PartSize = 7
	c.Scoring.Resamples = 50
	return c
}

func run(t *testing.T, c config.Config) *rundir.Report {
	t.Helper()
	r, err := Run(context.Background(), c, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tablesOf returns the content of everything in an output folder that must not
// depend on machine, time or number of workers.
func tablesOf(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil || name == rundir.ManifestFile {
			return err
		}
		files[filepath.ToSlash(name)], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func sameTables(t *testing.T, what string, want, got map[string][]byte) {
	t.Helper()
	for name, content := range want {
		if other, ok := got[name]; !ok {
			t.Errorf("%s: %s is missing", what, name)
		} else if !bytes.Equal(content, other) {
			t.Errorf("%s: %s differs", what, name)
		}
	}
	for name := range got {
		if _, ok := want[name]; !ok {
			t.Errorf("%s: %s is there and should not be", what, name)
		}
	}
}

func TestSameBytesForAnyNumberOfWorkers(t *testing.T) {
	want := tablesOf(t, villageRun(t)) // by as many workers as there are processors
	for _, workers := range []int{1, 2, 7} {
		if workers == config.Default().Workers {
			continue
		}
		c := configFor(t, village(t))
		c.Workers = workers
		run(t, c)
		sameTables(t, "workers", want, tablesOf(t, c.Out))
	}
	if len(want) < 5 {
		t.Fatalf("only %d files were compared", len(want))
	}
}

func TestEveryRecordingIsAccountedFor(t *testing.T) {
	c := configFor(t, village(t))
	r := run(t, c)
	n := r.Counts
	if n.In != n.Done+n.Failed+n.Excluded {
		t.Errorf("%d in, %d done, %d failed, %d excluded do not add up", n.In, n.Done, n.Failed, n.Excluded)
	}
	if n.Failed == 0 || n.Excluded == 0 {
		t.Errorf("the scenario has files that fail and files that are too short; got %+v", n)
	}
	if len(r.Problems) != n.Failed+n.Excluded {
		t.Errorf("%d problems are listed for %d failed and %d excluded", len(r.Problems), n.Failed, n.Excluded)
	}
	for _, p := range r.Problems {
		if p.Reason == "" {
			t.Errorf("recording %s has no reason", p.Recording)
		}
	}
	rows := 0
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](c.Out)) {
		if err != nil {
			t.Fatal(err)
		}
		if row.Outcome == table.Done && (row.Duration == nil || row.Confidence < 0) {
			t.Errorf("recording %s: %+v", row.Recording, row)
		}
		rows++
	}
	if rows != n.In {
		t.Errorf("%d rows for %d recordings", rows, n.In)
	}
	var m rundir.Manifest
	content, err := os.ReadFile(filepath.Join(c.Out, rundir.ManifestFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(content, &m); err != nil {
		t.Fatal(err)
	}
	if m.Counts.In != n.In || m.InputDigest == "" || m.Digest == "" {
		t.Errorf("manifest: %+v", m)
	}
}

// stopAfter is a workers.Progress that ends a run after some recordings.
type stopAfter struct {
	workers.Silent
	left int
	stop func()
}

func (s *stopAfter) Step(n int) {
	if s.left -= n; s.left == 0 {
		s.stop()
	}
}

func TestResumeGivesTheSameTables(t *testing.T) {
	want := tablesOf(t, villageRun(t))
	c := configFor(t, village(t))
	for _, after := range []int{3, 9} {
		ctx, cancel := context.WithCancel(context.Background())
		_, err := Run(ctx, c, &stopAfter{left: after, stop: cancel})
		if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "--resume") {
			t.Fatalf("stopped after %d recordings: %v", after, err)
		}
		if left, _ := filepath.Glob(filepath.Join(c.Out, "*", "*.partial")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
		c.Resume = true
	}
	run(t, c)
	sameTables(t, "resumed", want, tablesOf(t, c.Out))

	c.Resume = false
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "--resume") {
		t.Errorf("a folder with results: %v", err)
	}
	c.Resume, c.Method = true, "shannon-peaks"
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "config.method") {
		t.Errorf("another method: %v", err)
	}
}

func TestResumeNoticesAChangedRecording(t *testing.T) {
	src := villageCopy(t)
	c := configFor(t, src)
	run(t, c)
	wavs, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.wav"))
	if err != nil || len(wavs) == 0 {
		t.Fatal(err, len(wavs))
	}
	content, err := os.ReadFile(wavs[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(wavs[0], append(content, 0, 0), 0o644); err != nil {
		t.Fatal(err)
	}
	c.Resume = true
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "has changed") {
		t.Errorf("a recording was changed: %v", err)
	}
}

func TestStagesGiveTheTablesOfRun(t *testing.T) {
	whole := villageRun(t)
	want := tablesOf(t, whole)
	c := configFor(t, village(t))
	c.Out = filepath.Join(t.TempDir(), "states")
	if _, err := Segment(context.Background(), c, nil); err != nil {
		t.Fatal(err)
	}
	states := c.Out
	c.Out = filepath.Join(t.TempDir(), "cycles")
	if _, err := Extract(context.Background(), c, states, table.Predicted, nil); err != nil {
		t.Fatal(err)
	}
	rows := func(dir string) (n int) {
		for _, err := range table.ReadParts[table.Cycle](table.PartsOf[table.Cycle](dir)) {
			if err != nil {
				t.Fatal(err)
			}
			n++
		}
		return n
	}
	if a, b := rows(whole), rows(c.Out); a != b || a == 0 {
		t.Errorf("run wrote %d cycles, extract %d", a, b)
	}
	c.Out = filepath.Join(t.TempDir(), "scores")
	if _, err := scoring.Score(context.Background(), c, states, nil); err != nil {
		t.Fatal(err)
	}
	got := tablesOf(t, c.Out)
	if !bytes.Equal(want[rundir.SummaryFile], got[rundir.SummaryFile]) {
		t.Error("score gives another summary than run")
	}
}

// TestCleanRecordingsOfTheDemo holds the second method to what it must reach
// where nothing is in its way: 99 % within 40 ms of the centre.
func TestCleanRecordingsOfTheDemo(t *testing.T) {
	c := configFor(t, village(t))
	c.Scoring.Tolerance = config.Duration(40 * time.Millisecond)
	c.Scoring.Strata = []string{"condition"}
	for _, s := range run(t, c).Summary.Scores {
		if s.Stratum == "condition="+synth.Clean && s.Class == eval.Both && s.Aggregate == eval.Pooled {
			if !(s.F1 >= 0.99) || s.TP < 400 {
				t.Errorf("F1 %v with %d sounds found, want at least 0.99 and 400", s.F1, s.TP)
			}
			return
		}
	}
	t.Error("the summary has no score of the clean recordings")
}

func TestShardsMakeTheTablesOfOneRun(t *testing.T) {
	want := tablesOf(t, villageRun(t))
	c := configFor(t, village(t))
	c.Shard = config.Shard{Index: 1, Of: 2}
	run(t, c)
	if _, err := Merge(context.Background(), c.Out, config.Config{Workers: 2}, nil); err == nil || !strings.Contains(err.Error(), "missing") {
		t.Errorf("merge of one shard of two: %v", err)
	}
	c.Shard, c.Resume = config.Shard{Index: 2, Of: 2}, true
	run(t, c)
	if _, err := Merge(context.Background(), c.Out, config.Config{Workers: 2}, nil); err != nil {
		t.Fatal(err)
	}
	sameTables(t, "shards", want, tablesOf(t, c.Out))
}

func TestTimeLimitFailsTheRecordingAlone(t *testing.T) {
	c := configFor(t, village(t))
	c.TimeLimit = config.Duration(time.Nanosecond)
	r := run(t, c)
	if r.Counts.Done != 0 || r.Counts.In != r.Counts.Failed+r.Counts.Excluded {
		t.Errorf("with no time nothing can be done: %+v", r.Counts)
	}
}

func TestBadCalls(t *testing.T) {
	src := village(t)
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name  string
		spoil func(*config.Config)
		want  []string
	}{
		{"missing folder", func(c *config.Config) { c.Inputs[0].Data = filepath.Join(t.TempDir(), "nowhere") }, []string{"nowhere", "no such file"}},
		{"no such layout", func(c *config.Config) { c.Inputs[0].Layout = "circcor" }, []string{"circcor", "circor"}},
		{"no such method", func(c *config.Config) { c.Method = "durations" }, []string{"durations", "duration-hmm"}},
		{"output is a file", func(c *config.Config) { c.Out = file }, []string{file, "--out"}},
		{"no output", func(c *config.Config) { c.Out = "" }, []string{"--out"}},
		{"no data", func(c *config.Config) { c.Inputs = nil }, []string{"--data"}},
		{"same layout twice", func(c *config.Config) { c.Inputs = append(c.Inputs, c.Inputs[0]) }, []string{"twice"}},
	}
	for _, tt := range tests {
		c := configFor(t, src)
		tt.spoil(&c)
		_, err := Run(context.Background(), c, nil)
		if err == nil {
			t.Errorf("%s: accepted", tt.name)
			continue
		}
		for _, want := range tt.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: the message lacks %q: %v", tt.name, want, err)
			}
		}
	}
}

// What a run killed while it wrote the summary or the manifest has left is
// removed, though no part is missing.
func TestResumeRemovesUnfinishedFiles(t *testing.T) {
	c := crowd(t, 2)
	run(t, c)
	left := filepath.Join(c.Out, rundir.ManifestFile+".ABCDEFGH.partial")
	if err := os.WriteFile(left, []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	c.Resume = true
	run(t, c)
	if _, err := os.Stat(left); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%s is still there: %v", left, err)
	}
}
