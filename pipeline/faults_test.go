package pipeline

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// crowd returns the configuration of a quick run over n short recordings.
func crowd(t *testing.T, n int) config.Config {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, n, 2*time.Second, 1); err != nil {
		t.Fatal(err)
	}
	c := configFor(t, config.Input{Data: dir, Layout: filepath.Join(dir, "many.yaml")})
	c.Method = "shannon-peaks"
	c.Workers = 2
	return c
}

// elsewhere returns c with another output folder.
func elsewhere(t *testing.T, c config.Config) config.Config {
	t.Helper()
	c.Out = filepath.Join(t.TempDir(), "out")
	return c
}

// rowsOf reads the recordings table of a run.
func rowsOf(t *testing.T, dir string) map[string]table.Recording {
	t.Helper()
	rows := map[string]table.Recording{}
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			t.Fatal(err)
		}
		if _, twice := rows[row.Recording]; twice {
			t.Errorf("recording %s has two rows", row.Recording)
		}
		rows[row.Recording] = row
	}
	return rows
}

// accounted checks that every recording has a row, that every one without
// result has a reason, and that the counts say the same.
func accounted(t *testing.T, r *rundir.Report, dir string, in int) map[string]table.Recording {
	t.Helper()
	rows := rowsOf(t, dir)
	var n rundir.Counts
	for id, row := range rows {
		n.In++
		switch row.Outcome {
		case table.Done:
			n.Done++
		case table.Failed:
			n.Failed++
		case table.Excluded:
			n.Excluded++
		}
		if (row.Outcome == table.Done) != (row.Reason == "") {
			t.Errorf("recording %s: outcome %s with the reason %q", id, row.Outcome, row.Reason)
		}
	}
	if n != r.Counts || n.In != in || n.In != n.Done+n.Failed+n.Excluded {
		t.Errorf("%d recordings: rows say %+v, the report %+v", in, n, r.Counts)
	}
	return rows
}

// undisturbed checks that all recordings but those named have the rows of an
// undisturbed run.
func undisturbed(t *testing.T, want, got map[string]table.Recording, but map[string]bool) {
	t.Helper()
	for id, row := range want {
		if other, ok := got[id]; !ok {
			t.Errorf("recording %s was lost", id)
		} else if diff := cmp.Diff(row, other, cmp.Comparer(sameFloat)); diff != "" && !but[id] {
			t.Errorf("recording %s differs, though nothing was wrong with it:\n%s", id, diff)
		}
	}
}

func sameFloat(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

// misbehaving is a Segmenter that does something else on each call.
type misbehaving struct {
	segment.Segmenter
	call *atomic.Int32 // what hangs is left behind and may still count
	acts []func(context.Context, *pcg.Segmentation) error
	open *atomic.Int32
}

func (m misbehaving) Close() error {
	m.open.Add(-1)
	return nil
}

func (m misbehaving) Segment(ctx context.Context, in *segment.Input) (pcg.Segmentation, error) {
	s, err := m.Segmenter.Segment(ctx, in)
	if n := int(m.call.Add(1)) - 1; n < len(m.acts) {
		err = errors.Join(err, m.acts[n](ctx, &s))
	}
	return s, err
}

// Whatever a method does to a recording, its row says so, its reference counts
// as missed, and the others are none the worse.
func TestMethodMisbehaves(t *testing.T) {
	t.Parallel() // it waits; the other tests in parallel run in processes of their own
	release := make(chan struct{})
	defer close(release)
	nonsense := func(f func(s *pcg.Segmentation)) func(context.Context, *pcg.Segmentation) error {
		return func(_ context.Context, s *pcg.Segmentation) error { f(s); return nil }
	}
	tests := []struct {
		act    func(context.Context, *pcg.Segmentation) error
		reason string
	}{
		{nonsense(func(*pcg.Segmentation) { panic("out of tune") }), "panicked: out of tune at phonocycle/pipeline.TestMethodMisbehaves"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals = nil; _ = s.Intervals[3] }), "index out of range [3] with length 0 at phonocycle/pipeline.TestMethodMisbehaves"},
		{func(context.Context, *pcg.Segmentation) error { <-release; return nil }, "no result within the time limit of 50ms: raise --time-limit"},
		{func(ctx context.Context, _ *pcg.Segmentation) error { <-ctx.Done(); return ctx.Err() }, "no result within the time limit of 50ms"},
		{func(context.Context, *pcg.Segmentation) error { return errors.New("no beat") }, "no beat"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals = nil }), "segmentation is empty"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals = s.Intervals[1:] }), "not with the recording"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals[1].State = pcg.S1 }), "follows"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals[len(s.Intervals)-1].End += time.Hour }), "the recording at"},
		{nonsense(func(s *pcg.Segmentation) { s.Intervals[0].End = math.MinInt64 }), "has no length"},
		{nonsense(func(s *pcg.Segmentation) { s.Confidence = 7 }), "confidence 7"},
		{nonsense(func(s *pcg.Segmentation) { s.ExchangeProbability = 7 }), "exchange 7"},
		{nonsense(func(s *pcg.Segmentation) { s.CycleLength = -1 }), "cycle length"},
	}
	c := crowd(t, len(tests)+5)
	run(t, c)
	want := rowsOf(t, c.Out)

	c = elsewhere(t, c)
	c.Workers, c.TimeLimit = 1, config.Duration(50*time.Millisecond)
	j, err := newJob(c, stageRun, source.Method{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.close()
	j.grace = time.Second // for the recordings that take longer than the limit on a busy machine
	make := j.Method.New
	var calls, open atomic.Int32
	j.Method.New = func(options any, model []byte) (segment.Segmenter, error) {
		s, err := make(options, model)
		m := misbehaving{Segmenter: s, call: &calls, open: &open}
		open.Add(1)
		for _, tt := range tests {
			m.acts = append(m.acts, tt.act)
		}
		return m, err
	}
	entries := slices.Clone(j.Corpus.Entries)
	report, err := j.execute(context.Background(), time.Now(), workers.OrSilent(nil))
	if err != nil {
		t.Fatal(err)
	}
	if n := open.Load(); n != 1 {
		t.Errorf("%d segmenters are open after the run, want 1: the one that hangs", n)
	}
	got := accounted(t, report, c.Out, len(want))
	failed := map[string]bool{}
	for i, tt := range tests {
		row := got[entries[i].ID]
		failed[row.Recording] = true
		if row.Outcome != table.Failed || !strings.Contains(row.Reason, tt.reason) || !strings.Contains(row.Reason, "method shannon-peaks") {
			t.Errorf("call %d: %s, %q, want %q", i, row.Outcome, row.Reason, tt.reason)
		}
		if row.ReferenceKind == "" || row.AudioDigest == "" {
			t.Errorf("call %d: the row forgets the reference or the audio", i)
		}
	}
	undisturbed(t, want, got, failed)
	if n := report.Summary.Counts.Failed; n != len(tests) {
		t.Errorf("the summary counts %d recordings as missed, want %d", n, len(tests))
	}
}

// A method that hangs over and over leaves memory and a busy processor behind
// each time, so the run ends before the machine does.
func TestMethodHangsForEver(t *testing.T) {
	j := &job{}
	w := &worker{job: j}
	for n := 1; n <= maxAbandoned; n++ {
		out := w.abandon(&result{row: table.Recording{Recording: "r"}})
		if (out.stop != nil) != (n == maxAbandoned) {
			t.Fatalf("after %d: %v", n, out.stop)
		}
	}
}

// Of recordings with damaged bytes, every one has its row, and no other row
// changes.
func TestCorruptedRecordings(t *testing.T) {
	const n = 100
	c := crowd(t, n)
	c.PartSize = 40
	run(t, c)
	want := rowsOf(t, c.Out)

	rng := rand.New(rand.NewPCG(5, n))
	damaged := map[string]bool{}
	for _, id := range slices.Sorted(keysOf(want)) {
		if rng.IntN(20) > 0 { // 5 %
			continue
		}
		damaged[id] = true
		path := filepath.Join(c.Inputs[0].Data, want[id].Audio)
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for range 1 + rng.IntN(64) {
			reach := len(content)
			if rng.IntN(2) == 0 {
				reach = 64 // the headers
			}
			content[rng.IntN(reach)] = byte(rng.Uint32())
		}
		if rng.IntN(3) == 0 {
			content = content[:rng.IntN(len(content))]
		}
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if len(damaged) < 3 {
		t.Fatalf("only %d recordings are damaged", len(damaged))
	}
	c = elsewhere(t, c)
	report := run(t, c)
	got := accounted(t, report, c.Out, n)
	undisturbed(t, want, got, damaged)
	if report.Counts.Failed+report.Counts.Excluded == 0 {
		t.Error("no damage was noticed")
	}
	for id := range damaged {
		if got[id].AudioDigest == want[id].AudioDigest {
			t.Errorf("recording %s: the digest does not tell the damaged file from the whole one", id)
		}
	}
}

func keysOf[V any](m map[string]V) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// What becomes of recordings between listing and reading costs them alone.
func TestRecordingsChangeAfterListing(t *testing.T) {
	const n = 12
	c := crowd(t, n)
	run(t, c)
	want := rowsOf(t, c.Out)
	c = elsewhere(t, c)
	j, err := newJob(c, stageRun, source.Method{})
	if err != nil {
		t.Fatal(err)
	}
	defer j.close()
	faults := []struct {
		name   string
		do     func(path string) error
		reason []string
	}{
		{"vanished", os.Remove, []string{"no such file", "put it back"}},
		{"empty", func(p string) error { return os.Truncate(p, 0) }, []string{"empty", "fetch it again"}},
		{"cut", func(p string) error { return os.Truncate(p, 30) }, []string{"fetch"}},
		{"folder", func(p string) error { return errors.Join(os.Remove(p), os.Mkdir(p, 0o755)) }, []string{"a folder and no file", "put the file itself there"}},
		{"loop", func(p string) error { return errors.Join(os.Remove(p), os.Symlink(filepath.Base(p), p)) }, []string{"which leads back to itself", "put the file itself there"}},
		{"out", func(p string) error { return errors.Join(os.Remove(p), os.Symlink(os.DevNull, p)) }, []string{"symbolic link to " + os.DevNull, "put the file itself there"}},
	}
	changed := map[string]bool{}
	for i, f := range faults {
		changed[j.Corpus.Entries[i].ID] = true
		if err := f.do(filepath.Join(c.Inputs[0].Data, j.Corpus.Entries[i].Recording.Audio)); err != nil {
			t.Fatal(err)
		}
	}
	entries := slices.Clone(j.Corpus.Entries)
	report, err := j.execute(context.Background(), time.Now(), workers.OrSilent(nil))
	if err != nil {
		t.Fatal(err)
	}
	got := accounted(t, report, c.Out, n)
	undisturbed(t, want, got, changed)
	for i, f := range faults {
		row := got[entries[i].ID]
		for _, part := range append(f.reason, row.Audio) {
			if row.Outcome != table.Failed || !strings.Contains(row.Reason, part) {
				t.Errorf("%s: %s, %q lacks %q", f.name, row.Outcome, row.Reason, part)
			}
		}
	}
}

// Recordings may bear one name, or names that are no text, in thousands of
// folders: each has its row.
func TestNamesOfRecordings(t *testing.T) {
	const n = 1100 // more than the problems that are held in memory
	root := t.TempDir()
	names := []string{"caf\xe9.wav", "a\nb\x1b[31m.wav", strings.Repeat("x", 250) + ".wav"}
	for i := range n {
		names = append(names, fmt.Sprintf("%03d/%02d/rec.wav", i/100, i%100))
	}
	for _, name := range names {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o644); err != nil {
			t.Skipf("this file system refuses a name: %v", err)
		}
	}
	c := configFor(t, config.Input{Data: root, Layout: "plain"})
	c.PartSize = 1024
	report := run(t, c)
	got := accounted(t, report, c.Out, len(names))
	for _, id := range []string{`caf\xe9`, `a\nb\x1b[31m`, strings.Repeat("x", 250), "000/00/rec", "010/99/rec"} {
		if row, ok := got[id]; !ok || !strings.Contains(row.Reason, "the file is empty") {
			t.Errorf("recording %q: %+v", id, row)
		}
	}
	if n := len(report.Problems); n > 1000 {
		t.Errorf("%d problems are held in memory", n)
	}
}

// No decision depends on a clock: neither times of files nor of locks in the
// past or the future change a byte.
func TestClocksThatJump(t *testing.T) {
	c := crowd(t, 12)
	c.PartSize = 4
	run(t, c)
	want := tablesOf(t, c.Out)

	c = elsewhere(t, c)
	ctx, cancel := context.WithCancel(context.Background())
	if _, err := Run(ctx, c, &stopAfter{left: 6, stop: cancel}); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	years := []int{1971, 2199, 2026}
	i := 0
	for _, dir := range []string{c.Inputs[0].Data, c.Out} {
		err := filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
			i++
			at := time.Date(years[i%len(years)], 1, 1, 0, 0, 0, 0, time.UTC)
			return errors.Join(err, os.Chtimes(path, at, at))
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	lock, err := json.Marshal(map[string]any{"pid": 1, "host": "elsewhere", "started": time.Date(2199, 1, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(c.Out, "run.lock"), lock, 0o644); err != nil {
		t.Fatal(err)
	}
	c.Resume = true
	report := run(t, c)
	sameTables(t, "clocks", want, tablesOf(t, c.Out))
	if !strings.Contains(strings.Join(report.Warnings, "\n"), "process 1 on elsewhere") {
		t.Errorf("nothing is said of the lock that was left behind: %q", report.Warnings)
	}
}

// A run that is cancelled, at any moment, leaves no goroutine and no file half
// written.
func TestCancelledRunLeavesNothing(t *testing.T) {
	c := crowd(t, 12)
	c.PartSize = 4
	before := runtime.NumGoroutine()
	for _, after := range []int{1, 3, 6, 11} {
		c := elsewhere(t, c)
		ctx, cancel := context.WithCancel(context.Background())
		if _, err := Run(ctx, c, &stopAfter{left: after, stop: cancel}); !errors.Is(err, context.Canceled) {
			t.Fatalf("cancelled after %d recordings: %v", after, err)
		}
		for name := range tablesOf(t, c.Out) {
			if name != rundir.PlanFile && name != "cost.json" && !strings.HasSuffix(name, ".parquet") {
				t.Errorf("cancelled after %d recordings: left %s behind", after, name)
			}
		}
	}
	for range 200 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	stacks := make([]byte, 1<<16)
	t.Errorf("%d goroutines before, %d after:\n%s", before, runtime.NumGoroutine(), stacks[:runtime.Stack(stacks, true)])
}

// Data, layout and configuration that are not there are named with the flag
// that corrects them.
func TestErrorsSayTheRemedy(t *testing.T) {
	c := crowd(t, 4)
	run(t, c)
	t.Run("recording removed before resume", func(t *testing.T) {
		if err := os.Remove(filepath.Join(c.Inputs[0].Data, "recordings", "p000001_aortic.wav")); err != nil {
			t.Fatal(err)
		}
		c.Resume = true
		_, err := Run(context.Background(), c, nil)
		for _, want := range []string{"data_sets[0].recordings was 4 and is now 3", "--out"} {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("the message lacks %q: %v", want, err)
			}
		}
	})
	t.Run("damaged part", func(t *testing.T) {
		c := crowd(t, 4)
		run(t, c)
		part := table.PartsOf[table.Recording](c.Out).Path(0)
		if err := os.Truncate(part, 100); err != nil {
			t.Fatal(err)
		}
		c.Resume = true
		_, err := Run(context.Background(), c, nil)
		for _, want := range []string{part, "remove it"} {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("the message lacks %q: %v", want, err)
			}
		}
	})
}
