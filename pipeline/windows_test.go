package pipeline

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
)

func cut(t *testing.T, src config.Input, states, source string, rules config.WindowRules, change func(*config.Config)) (config.Config, *rundir.Report) {
	t.Helper()
	c := configFor(t, src)
	c.Windows = &rules
	if change != nil {
		change(&c)
	}
	r, err := Windows(context.Background(), c, states, source, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c, r
}

// windowsOf reads the windows of an output folder, by recording.
func windowsOf(t *testing.T, dir string) map[string][]table.Record[table.Window] {
	t.Helper()
	r, err := table.OpenParts[table.Window](table.PartsOf[table.Window](dir))
	if err != nil {
		t.Fatal(err)
	}
	windows := map[string][]table.Record[table.Window]{}
	for record, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		record.Values = record.Values.Clone()
		windows[record.Row.Recording] = append(windows[record.Row.Recording], record)
	}
	return windows
}

// Each cycle of the table cycles is a window of the same number that begins
// with it; its states are those of the states table, and what comes after the
// cycle is zero.
func TestWindowsOfCycles(t *testing.T) {
	src, states := village(t), villageRun(t)
	rules := config.DefaultWindowRules()
	rules.Length = config.Duration(700 * time.Millisecond) // shorter than some cycles
	c, report := cut(t, src, states, table.Predicted, rules, nil)
	if report.Counts.Done == 0 {
		t.Fatal("no recording was cut")
	}
	windows := windowsOf(t, c.Out)
	cycles := 0
	cuts := map[bool]int{}
	for cycle, err := range table.ReadParts[table.Cycle](table.PartsOf[table.Cycle](states)) {
		if err != nil {
			t.Fatal(err)
		}
		cycles++
		w := windows[cycle.Recording][cycle.Index]
		want := table.Window{
			Recording: cycle.Recording, DataSet: cycle.DataSet, Person: cycle.Person, Site: cycle.Site, Fold: cycle.Fold,
			Origin: cycle.Origin, Method: cycle.Method, ModelDigest: cycle.ModelDigest, PersonInTrainingData: cycle.PersonInTrainingData, Index: cycle.Index,
			Start:   pcg.FromSamples(int64(pcg.ToSamples(cycle.Start, signal.AnalysisRate)), signal.AnalysisRate),
			Samples: int32(min(pcg.ToSamples(cycle.End, signal.AnalysisRate)-pcg.ToSamples(cycle.Start, signal.AnalysisRate), 700)),
			Cut:     pcg.ToSamples(cycle.End, signal.AnalysisRate)-pcg.ToSamples(cycle.Start, signal.AnalysisRate) > 700,
		}
		if diff := cmp.Diff(want, w.Row); diff != "" {
			t.Fatal(diff)
		}
		cuts[want.Cut]++
		first := pcg.ToSamples(cycle.Start, signal.AnalysisRate)
		edges := []time.Duration{cycle.S1End, cycle.S2Start, cycle.S2End, cycle.End}
		for i, got := range w.Values.Bytes[0] {
			state := byte(pcg.Unannotated)
			for k := len(edges) - 1; k >= 0; k-- {
				if first+i < pcg.ToSamples(edges[k], signal.AnalysisRate) {
					state = byte(k + 1)
				}
			}
			if got != state {
				t.Fatalf("cycle %d of %s: sample %d is in state %d, want %d", cycle.Index, cycle.Recording, i, got, state)
			}
		}
		if rest := w.Values.Vectors[0][w.Row.Samples:]; slices.ContainsFunc(rest, func(v float32) bool { return v != 0 }) {
			t.Errorf("cycle %d of %s: not zero after its end", cycle.Index, cycle.Recording)
		}
	}
	if total := count(windows); total != cycles || cuts[true] == 0 || cuts[false] == 0 {
		t.Errorf("%d windows of %d cycles; cut or not: %v", total, cycles, cuts)
	}
}

func count(windows map[string][]table.Record[table.Window]) int {
	n := 0
	for _, w := range windows {
		n += len(w)
	}
	return n
}

// Fixed windows hold the recording without a gap: overlapping ones agree where
// they overlap.
func TestFixedWindows(t *testing.T) {
	src, states := village(t), villageRun(t)
	rules := config.WindowRules{Align: config.AlignFixed, Length: config.Duration(3 * time.Second), Hop: config.Duration(time.Second)}
	c, _ := cut(t, src, states, table.Reference, rules, nil)
	windows := windowsOf(t, c.Out)
	if len(windows) == 0 {
		t.Fatal("no windows")
	}
	for id, list := range windows {
		loud := false
		for i, w := range list {
			if w.Row.Index != int32(i) || w.Row.Start != time.Duration(i)*time.Second || w.Row.Cut || w.Row.Origin != table.Reference || w.Row.Method != "" {
				t.Fatalf("window %d of %s: %+v", i, id, w.Row)
			}
			x := w.Values.Vectors[0]
			loud = loud || slices.ContainsFunc(x, func(v float32) bool { return math.Abs(float64(v)) > 1e-3 })
			if i == 0 {
				continue
			}
			last := list[i-1]
			if !slices.Equal(x[:2000], last.Values.Vectors[0][1000:]) || !slices.Equal(w.Values.Bytes[0][:2000], last.Values.Bytes[0][1000:]) {
				t.Errorf("windows %d and %d of %s differ where they overlap", i-1, i, id)
			}
		}
		if !loud {
			t.Errorf("%s is silent", id)
		}
	}
}

func TestFixedPlaces(t *testing.T) {
	rules := config.WindowRules{Align: config.AlignFixed, Length: config.Duration(100 * time.Millisecond), Hop: config.Duration(40 * time.Millisecond)}
	for n, want := range map[int][][2]int{
		0:   {{0, 0}},
		99:  {{0, 99}},
		100: {{0, 100}},
		139: {{0, 100}},
		180: {{0, 100}, {40, 140}, {80, 180}},
	} {
		if diff := cmp.Diff(want, fixedPlaces(&rules, n)); diff != "" {
			t.Errorf("%d samples: %s", n, diff)
		}
	}
}

func TestWindowsSameBytesForAnyNumberOfWorkers(t *testing.T) {
	src, states := village(t), villageRun(t)
	var first map[string][]byte
	for _, workers := range []int{1, 2, 7} {
		c, _ := cut(t, src, states, table.Predicted, config.DefaultWindowRules(), func(c *config.Config) { c.Workers = workers })
		got := tablesOf(t, c.Out)
		if first == nil {
			first = got
		}
		sameTables(t, "workers", first, got)
	}
	if len(first) < 4 {
		t.Fatalf("only %d files were compared", len(first))
	}
}

// Shards make the parts of windows apart, and merge completes them to the same.
func TestWindowsInShards(t *testing.T) {
	src, states := village(t), villageRun(t)
	whole, _ := cut(t, src, states, table.Predicted, config.DefaultWindowRules(), nil)
	out := t.TempDir()
	for i := 1; i <= 2; i++ {
		cut(t, src, states, table.Predicted, config.DefaultWindowRules(), func(c *config.Config) {
			c.Out, c.Resume, c.Shard = out, true, config.Shard{Index: i, Of: 2}
		})
	}
	if _, err := Merge(context.Background(), out, config.Config{Workers: 1}, nil); err != nil {
		t.Fatal(err)
	}
	sameTables(t, "shards", tablesOf(t, whole.Out), tablesOf(t, out))
}

func TestWindowRules(t *testing.T) {
	for _, tt := range []struct {
		rules config.WindowRules
		want  string
	}{
		{config.WindowRules{Align: "beat", Length: config.Duration(time.Second)}, `"beat"`},
		{config.WindowRules{Align: config.AlignCycle}, "length"},
		{config.WindowRules{Align: config.AlignCycle, Length: config.Duration(time.Hour)}, "length"},
		{config.WindowRules{Align: config.AlignFixed, Length: config.Duration(time.Second)}, "hop"},
		{config.WindowRules{Align: config.AlignFixed, Length: config.Duration(time.Second), Hop: -1}, "hop"},
	} {
		if err := tt.rules.Check(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v, want an error on %s", tt.rules, err, tt.want)
		}
	}
	rules := config.DefaultWindowRules()
	if err := rules.Check(); err != nil {
		t.Error(err)
	}
}
