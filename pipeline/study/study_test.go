package study

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/workers"
)

// small compares two methods and a program that does not start, over two synthetic data
// sets.
const small = `title: Three methods on two villages
data-sets:
  - {name: near, folder: near, layout: near/near.yaml}
  - {name: far, folder: far, layout: far/far.yaml}
methods:
  - {name: peaks, method: shannon-peaks}
  - {name: hmm, method: duration-hmm}
  - {name: one rhythm, config: schmidt-2010}
  - {name: broken, method: ./broken.yaml}
conditions:
  - clean
  - noise=white, snr=0
designs:
  - {name: near, cross-validate: near, folds: 2}
  - {name: far, fit-on: near, score-on: far, methods: [peaks, hmm]}
  - {name: built-in, model: builtin, score-on: far, methods: [hmm], conditions: [clean]}
scoring: {resamples: 50}
`

var (
	sharedDir string
	makeData  = sync.OnceValue(func() error {
		near, far := synth.Many(24, 3*time.Second, 1), synth.Many(12, 3*time.Second, 2)
		near.Name, far.Name = "near", "far"
		return errors.Join(
			near.Write(context.Background(), filepath.Join(sharedDir, "near"), 1), far.Write(context.Background(), filepath.Join(sharedDir, "far"), 2),
			os.WriteFile(filepath.Join(sharedDir, "broken.yaml"), []byte("name: broken\ntitle: A program that is not there\nsegment: [./no-such-program]\nanswers: intervals\n"), 0o644),
		)
	})
)

func TestMain(m *testing.M) {
	var err error
	if sharedDir, err = os.MkdirTemp("", "study"); err != nil {
		panic(err)
	}
	noteEvery = 0
	status := m.Run()
	_ = os.RemoveAll(sharedDir)
	os.Exit(status)
}

// studyOf writes a study beside the shared data and loads it.
func studyOf(t *testing.T, text string) *File {
	t.Helper()
	if err := makeData(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(sharedDir, strings.ReplaceAll(t.Name(), "/", "-")+".yaml")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func run(t *testing.T, f *File, o Options) *Report {
	t.Helper()
	r, err := Run(context.Background(), f, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// result returns study.json.
func result(t *testing.T, out string) []byte {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(out, resultFile))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

// costs returns what the cells and models of a study cost.
func costs(t *testing.T, out string) map[string]rundir.Cost {
	t.Helper()
	var list []cellCost
	if _, err := rundir.ReadJSON(filepath.Join(out, costFile), &list); err != nil {
		t.Fatal(err)
	}
	byName := map[string]rundir.Cost{}
	for _, c := range list {
		byName[c.Of] = c.Cost
	}
	return byName
}

// A study gives the same bytes with one worker and with two, in shards, part by part and
// after an interrupt, and it fits no model twice.
func TestStudyGivesTheSameBytes(t *testing.T) {
	f := studyOf(t, small)
	whole := Options{Out: t.TempDir(), Workers: 1}
	report := run(t, f, whole)
	if report.Cells != 13 || report.Done != 11 || report.Made != 11 || len(report.Faults) != 2 {
		t.Fatalf("%+v", *report)
	}
	checkResult(t, report)
	fits := 0
	for _, c := range costs(t, whole.Out) {
		fits += c.Fits
	}
	if want := 2 + 1; fits != want { // of two folds and of the whole; one rhythm has the models of hmm
		t.Errorf("%d fits, want %d: %+v", fits, want, slices.Collect(maps.Keys(costs(t, whole.Out))))
	}
	want := result(t, whole.Out)

	if again := run(t, f, whole); again.Made != 0 || !bytes.Equal(want, result(t, whole.Out)) {
		t.Errorf("the same study again made %d cells", again.Made)
	}

	shards := Options{Out: t.TempDir(), Workers: 2}
	for i := range 3 {
		o := shards
		o.Shard = config.Shard{Index: i + 1, Of: 3}
		if r := run(t, f, o); r.Study != nil || len(r.Written) != 0 {
			t.Errorf("shard %d wrote results: %v", i+1, r.Written)
		}
	}
	if r := run(t, f, shards); r.Made != 0 || !bytes.Equal(want, result(t, shards.Out)) {
		t.Errorf("after all shards, %d cells are made, and study.json differs: %t", r.Made, !bytes.Equal(want, result(t, shards.Out)))
	}

	parts := Options{Out: t.TempDir(), Workers: 2}
	for _, pattern := range []string{"noise*", "far", "one rhythm"} {
		o := parts
		o.Only = []string{pattern}
		run(t, f, o)
	}
	stopped := 0
	for at := 1; ; at += 2 { // at each note of a fit and each cell
		ctx, cancel := context.WithCancel(context.Background())
		_, err := Run(ctx, f, parts, &stopAt{at: at, cancel: cancel})
		cancel()
		if err == nil {
			break
		}
		if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "interrupted") || at > 50 {
			t.Fatal(err)
		}
		stopped++
	}
	if stopped == 0 || !bytes.Equal(want, result(t, parts.Out)) {
		t.Errorf("after parts and %d interrupts study.json differs", stopped)
	}
}

// checkResult looks into the results of the small study.
func checkResult(t *testing.T, r *Report) {
	t.Helper()
	for _, fault := range r.Faults {
		if fault.Method != "broken" || strings.Contains(fault.Reason, sharedDir) || !strings.Contains(fault.Reason, "no-such-program") {
			t.Errorf("%+v", fault)
		}
	}
	if h := r.Study.Header; !slices.Equal(h.Columns, []string{"near", "far", "built-in"}) || !slices.Equal(h.Conditions, []string{"", "noise=white,snr=0"}) || len(h.Digest) != 64 {
		t.Errorf("%+v", h)
	}
	score := map[string]float64{}
	for _, c := range r.Study.Cells {
		score[c.ID] = float64(c.Headline[0].F1)
		want := map[string]eval.Origin{"near": eval.CrossValidated, "far": eval.FittedElsewhere, "built-in": eval.FittedElsewhere}[c.Column]
		if c.Method == "peaks" {
			want = eval.NotFitted
		}
		if c.Provenance.Origin != want || (c.Provenance.Condition != "") != (c.Condition != "") {
			t.Errorf("%s: %s, %q", c.ID, c.Provenance.Words(), c.Provenance.Condition)
		}
	}
	if a, b := score["near/hmm/clean"], score["near/hmm/noise=white,snr=0"]; !(a > 0.9 && b < a) {
		t.Errorf("F1 %v on clean audio and %v in noise", a, b)
	}
	for _, name := range r.Written {
		if info, err := os.Stat(name); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// stopAt interrupts a study at one of its notes, which fits are told to give.
type stopAt struct {
	workers.Silent
	at     int
	cancel context.CancelFunc
}

func (s *stopAt) Note(string) {
	if s.at--; s.at == 0 {
		s.cancel()
	}
}

// Two studies with one output folder share cells and models, whatever they call them.
func TestStudiesShareCells(t *testing.T) {
	f := studyOf(t, small)
	o := Options{Out: t.TempDir(), Workers: 2, Only: []string{"near", "hmm"}}
	if r := run(t, f, o); r.Made != 2 {
		t.Fatalf("%+v", *r)
	}
	other := studyOf(t, `title: Another
data-sets: [{name: home, folder: near, layout: near/near.yaml}]
methods: [{name: the same, method: duration-hmm}, {name: two, method: duration-hmm, options: {hypotheses: 2}}]
designs: [{name: all, cross-validate: home, folds: 2}]
scoring: {resamples: 50}
`)
	o.Only = nil
	states, err := List(other, o)
	if err != nil || len(states) != 2 || !states[0].Done || states[0].Cell != "all/the same/clean" || states[1].Done {
		t.Fatalf("%+v, %v", states, err)
	}
	if r := run(t, other, o); r.Made != 1 || r.Done != 2 {
		t.Errorf("%+v", *r)
	}
	if c := costs(t, o.Out); c["all/two/clean"].Fits != 0 || c["all/the same/clean"].Fits != 2 {
		t.Errorf("%+v", c)
	}
}

// Labels split the scores of a study, and not its cells, which another study may share.
func TestStrataOfAStudy(t *testing.T) {
	text := func(strata string) string {
		return "title: Strata\ndata-sets: [{name: far, folder: far, layout: far/far.yaml}]\nmethods: [{name: peaks, method: shannon-peaks}]\n" +
			"designs: [{name: far, model: builtin, score-on: far}]\nscoring: {resamples: 50" + strata + "}\n"
	}
	o := Options{Out: t.TempDir(), Workers: 2}
	for strata, want := range map[string]func(names []string) bool{
		"":                func(names []string) bool { return len(names) > 2 },
		", strata: []":    func(names []string) bool { return len(names) == 0 },
		", strata: [sex]": func(names []string) bool { return slices.Equal(names, []string{"sex"}) },
	} {
		r := run(t, studyOf(t, text(strata)), o)
		var names []string
		for _, s := range r.Study.Cells[0].Strata {
			name, _, _ := strings.Cut(s.Stratum, "=")
			names = append(names, name)
		}
		if names = slices.Compact(names); !want(names) {
			t.Errorf("%q: strata by %v", strata, names)
		}
	}
	if made, err := os.ReadDir(filepath.Join(o.Out, cellsFolder)); err != nil || len(made) != 1 {
		t.Errorf("%d cells, %v", len(made), err)
	}
	if _, err := Run(context.Background(), studyOf(t, text(", strata: [sexx]")), o, nil); err == nil || !strings.Contains(err.Error(), `scoring: strata: no recording has a property "sexx"`) {
		t.Error(err)
	}
}

// A cell whose data have changed since is refused, and named.
func TestStudyOfChangedData(t *testing.T) {
	f := studyOf(t, small)
	data := t.TempDir()
	for _, set := range []string{"near", "far"} {
		if err := os.CopyFS(filepath.Join(data, set), os.DirFS(filepath.Join(sharedDir, set))); err != nil {
			t.Fatal(err)
		}
	}
	o := Options{Data: data, Out: t.TempDir(), Workers: 2, Only: []string{"far", "hmm"}}
	run(t, f, o)
	for set, want := range map[string]string{
		"far":  "cell far/hmm/clean, which is done: recording p000001_aortic: recordings/p000001_aortic.wav has changed",
		"near": "was fitted to recordings that have changed since",
	} {
		path := filepath.Join(data, set, "recordings", "p000001_aortic.wav")
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		changed := slices.Clone(content)
		changed[len(changed)-1] ^= 1
		for _, step := range []struct {
			content []byte
			want    string
		}{{changed, want}, {content, ""}} {
			if err := os.WriteFile(path, step.content, 0o644); err != nil {
				t.Fatal(err)
			}
			if _, err := Run(context.Background(), f, o, nil); (err == nil) != (step.want == "") || err != nil && !strings.Contains(err.Error(), step.want) {
				t.Errorf("%s: %v, want %q", set, err, step.want)
			}
		}
	}
}

// A data set that is not there, and a design whose people were fitted to, cost their
// cells.
func TestStudyWithoutData(t *testing.T) {
	f := studyOf(t, `title: Faults
data-sets:
  - {name: near, folder: near, layout: near/near.yaml}
  - {name: gone, folder: gone, layout: plain}
  - {name: none, folder: near, layout: near/near.yaml, recordings: no-list.txt}
methods: [{name: hmm, method: duration-hmm}]
designs:
  - {name: same, fit-on: near, score-on: near}
  - {name: gone, model: builtin, score-on: gone}
  - {name: none, model: builtin, score-on: none}
  - {name: good, model: builtin, score-on: near}
scoring: {resamples: 50}
`)
	o := Options{Out: t.TempDir(), Workers: 2}
	r := run(t, f, o)
	want := []string{"was fitted on recordings of 6 of these people", "gone", "no-list.txt"}
	if len(r.Faults) != 3 || r.Done != 1 {
		t.Fatalf("%+v", *r)
	}
	for i, fault := range r.Faults {
		if !strings.Contains(fault.Reason, want[i]) {
			t.Errorf("%s: %s, want %s", fault.Cell, fault.Reason, want[i])
		}
	}
	states, err := List(f, o)
	if err != nil || !states[3].Done || states[1].Fault == "" || states[0].Fault != "" {
		t.Errorf("%+v, %v", states, err)
	}
}

// Every cell is in one shard, and cells with common models are in the same.
func TestShardsOfAStudy(t *testing.T) {
	f := studyOf(t, small)
	all := f.cells(&Options{Out: t.TempDir(), Workers: 1})
	for of := 1; of < 6; of++ {
		shard := map[string]int{} // by cell
		models := map[string]int{}
		for i := range of {
			for _, c := range shardOf(all, config.Shard{Index: i + 1, Of: of}) {
				if at, twice := shard[c.ID]; twice {
					t.Errorf("%d shards: %s is in %d and %d", of, c.ID, at, i)
				}
				shard[c.ID] = i
				if c.fit == nil {
					continue
				}
				if at, there := models[c.fit.digest]; there && at != i {
					t.Errorf("%d shards: the models of %s are fitted in %d and %d", of, c.ID, at, i)
				}
				models[c.fit.digest] = i
			}
		}
		if len(shard) != 13 {
			t.Errorf("%d shards have %d cells", of, len(shard))
		}
	}
}

// A second study is kept out of the folder of one that runs.
func TestStudyIsLocked(t *testing.T) {
	f := studyOf(t, small)
	out := t.TempDir()
	l, _, err := rundir.LockFolder(out, config.Shard{Index: 1, Of: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, shard := range []config.Shard{{}, {Index: 1, Of: 2}} {
		if _, err := Run(context.Background(), f, Options{Out: out, Workers: 1, Shard: shard}, nil); err == nil || !strings.Contains(err.Error(), "process") {
			t.Errorf("shard %v: %v", shard, err)
		}
	}
	if err := l.Release(); err != nil {
		t.Fatal(err)
	}
	if err := rundir.WriteJSON(filepath.Join(out, rundir.PlanFile), map[string]any{"tool": "x"}); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(context.Background(), f, Options{Out: out, Workers: 1}, nil); err == nil || !strings.Contains(err.Error(), "is that of a run") {
		t.Errorf("in the folder of a run: %v", err)
	}
}

func TestOnly(t *testing.T) {
	all := studyOf(t, small).cells(&Options{Out: t.TempDir(), Workers: 1})
	for _, tt := range []struct {
		patterns string
		want     int
	}{{"hmm", 5}, {"near", 8}, {"clean", 7}, {"noise*", 6}, {"near|hmm|clean", 1}, {"far/*/clean", 2}, {"[", 0}, {"nobody", 0}, {"built-in|peaks", 0}} {
		cells, err := only(all, strings.Split(tt.patterns, "|"))
		if len(cells) != tt.want || (err == nil) != (tt.want > 0) {
			t.Errorf("%s: %d cells, %v, want %d", tt.patterns, len(cells), err, tt.want)
		}
	}
}

// The built-in studies are without faults.
func TestBuiltinStudies(t *testing.T) {
	for _, name := range Names() {
		f, err := Load(name)
		if err != nil {
			t.Error(err)
			continue
		}
		o := Options{Data: t.TempDir(), Out: t.TempDir(), Workers: 1}
		states, err := List(f, o)
		if err != nil || len(states) == 0 || states[0].Done {
			t.Errorf("%s: %d cells, %v", name, len(states), err)
		}
		for _, s := range states { // without data
			if !strings.Contains(s.Fault, "no such file") {
				t.Errorf("%s: %s", s.Cell, s.Fault)
			}
		}
	}
	if _, err := Load("nobody"); err == nil || !strings.Contains(err.Error(), "have readme, robustness") {
		t.Error(err)
	}
}

// All faults of a study file come at once, each with its line.
func TestFaultsOfAStudyFile(t *testing.T) {
	const good = `title: Good
data-sets:
  - {name: a, folder: a, layout: circor}
methods:
  - {name: m, method: shannon-peaks}
conditions:
  - clean
designs:
  - {name: d, cross-validate: a}
`
	if _, err := parse("s.yaml", "", []byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ old, new, want string }{
		{"title: Good\n", "", "s.yaml:1:1: title: missing"},
		{"title: Good", "titel: Good", `s.yaml:1:1: unknown key "titel": did you mean "title"?`},
		{"folder: a, ", "", "s.yaml:3:6: data-sets[0].folder: missing: name the folder"},
		{"name: a, ", "", "s.yaml:3:6: data-sets[0].name: missing"},
		{"layout: circor", "layout: cirkor", `s.yaml:3:34: data-sets[0].layout: no layout is called "cirkor": did you mean "circor"?`},
		{"layout: circor", "layout: cinc2016, reference: ekg", `s.yaml:3:55: data-sets[0].reference: no reference of layout cinc2016 is called "ekg": did you mean "ecg"?`},
		{"layout: circor", "layout: circor, people: nobody", `data-sets[0].people: no embedded list of people "nobody"`},
		{"layout: circor}", "layout: circor}\n  - {name: a, folder: b, layout: plain}", `s.yaml:4:12: data-sets[1].name: "a" is the name of entry 1 already`},
		{"name: m", "name: m/n", `methods[0].name: "m/n": a name has at most 80 characters, no /`},
		{", method: shannon-peaks", "", "s.yaml:5:6: methods[0]: name its method with the key method"},
		{"method: shannon-peaks", "method: shannon-peaks, config: liang-1997", "it has both keys method and config"},
		{"method: shannon-peaks", "method: shanon-peaks", "s.yaml:5:23: methods[0].method: "},
		{"method: shannon-peaks", "config: liang-1996", `methods[0].config: no embedded run configuration "liang-1996"`},
		{"method: shannon-peaks", "method: shannon-peaks, options: {tresholds: 1}", `methods[0].options: options of method shannon-peaks: unknown key "tresholds"`},
		{"method: shannon-peaks", "method: shannon-peaks, fit: {l2: 1}", "methods[0].fit: method shannon-peaks has no parameters to fit"},
		{"method: shannon-peaks", "method: duration-hmm, model: nobody", `methods[0].model: no embedded model "nobody"`},
		{"- clean", "- noise=pink", "s.yaml:7:5: conditions[0]: condition: noise=pink needs the key snr behind it"},
		{"- clean", "- clean\n  - clean", "s.yaml:8:5: conditions[1]: clean stands here twice"},
		{"- clean", "- clip=0.1\n  - clip= 0.10", "s.yaml:8:5: conditions[1]: clip=0.1 stands here twice"},
		{"- clean", `- ""`, "conditions[0]: an empty condition: write clean"},
		{"cross-validate: a", "cross-validate: other", `s.yaml:9:31: designs[0].cross-validate: no data set is called "other": there are a`},
		{"cross-validate: a", "cross-validate: a, fit-on: a", "s.yaml:9:6: designs[0]: give one of these: cross-validate"},
		{", cross-validate: a", "", "designs[0]: give one of these: cross-validate"},
		{"cross-validate: a", "fit-on: a", "designs[0].score-on: missing"},
		{"cross-validate: a", "cross-validate: a, score-on: a", "designs[0].score-on: a cross-validation scores the data set that it fits to"},
		{"cross-validate: a", "model: mine, score-on: a", `designs[0].model: "mine": want builtin`},
		{"cross-validate: a", "model: builtin, score-on: a, folds: 3", "designs[0]: folds and fold-seed belong to a design with cross-validate"},
		{"cross-validate: a", "cross-validate: a, folds: 1", "designs[0].folds: 1: a cross-validation needs at least 2"},
		{"cross-validate: a", "cross-validate: a, folds: ten", `designs[0].folds: "ten": want a whole number`},
		{"cross-validate: a", "cross-validate: a, training-overlap: ignore", "designs[0].training-overlap: want refuse, leave-out or score"},
		{"cross-validate: a", "cross-validate: a, methods: [n]", `s.yaml:9:44: designs[0].methods[0]: no method is called "n": did you mean "m"?`},
		{"cross-validate: a", "cross-validate: a, methods: [m, m]", "designs[0].methods[1]: m stands here twice"},
		{"cross-validate: a", "cross-validate: a, conditions: [clip=0.1]", "designs[0].conditions[0]: the study has no condition clip=0.1"},
		{"cross-validate: a", "cross-validate: a, reference: ecg", `designs[0].reference: no reference of layout circor is called "ecg"`},
		{"cross-validate: a}", "cross-validate: a}\nscoring: {resamples: -1}", "s.yaml:10:11: scoring: "},
		{good, "designs: []\n", "designs: missing: a study needs at least one"},
	} {
		_, err := parse("s.yaml", "", []byte(strings.Replace(good, tt.old, tt.new, 1)))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q in place of %q: %v, want %q", tt.new, tt.old, err, tt.want)
		}
	}
	_, err := parse("s.yaml", "", []byte(strings.NewReplacer("Good", `""`, "shannon-peaks", "nobody", "validate: a", "validate: b").Replace(good)))
	if err == nil || len(strings.Split(err.Error(), "\n")) != 3 {
		t.Errorf("three faults: %v", err)
	}
	many := strings.Replace(good, "- clean", strings.TrimPrefix(conditionLines(10_001), "  "), 1)
	if _, err := parse("s.yaml", "", []byte(many)); err == nil || !strings.Contains(err.Error(), "more than 10000 cells") {
		t.Errorf("too many cells: %.200v", err)
	}
}

// conditionLines lists n conditions.
func conditionLines(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "  - low-cut=%d.%d\n", 10+i/100, i%100+1)
	}
	return strings.TrimSuffix(b.String(), "\n")
}
