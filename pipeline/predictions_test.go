package pipeline

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/source"
	"phonocycle/pipeline/table"
)

// predictionRows returns the predicted states of a folder, by recording.
func predictionRows(t *testing.T, dir string) map[string][]table.State {
	t.Helper()
	rows := map[string][]table.State{}
	for row, err := range table.ReadParts[table.State](table.PartsOf[table.State](dir)) {
		if err != nil {
			t.Fatal(err)
		}
		if row.Origin == table.Predicted {
			rows[row.Recording] = append(rows[row.Recording], row)
		}
	}
	return rows
}

func writeText(t *testing.T, path, content string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// shared describes one file for all recordings, whose codes are these.
var codes = map[string]string{"S1": "a", "systole": "b", "S2": "c", "diastole": "d"}

const shared = `kind: intervals
key: name
match: "{id}"
header: present
delimiter: semicolon
columns: {start: from, end: to, state: what}
unit: seconds
states: {a: S1, b: systole, c: S2, d: diastole}
`

// A segmentation gets the same score whichever way it comes in: as our tables,
// as text with one file for all, or as text with a file a recording, in samples.
func TestPredictionsScoreAsTheTablesTheyCameFrom(t *testing.T) {
	src := atRest(t, 6)
	c := configFor(t, src)
	folder := segmented(t, src, "duration-hmm", nil)
	want, err := scoring.Score(context.Background(), c, folder, nil)
	if err != nil {
		t.Fatal(err)
	}
	rows := predictionRows(t, folder)

	dir := t.TempDir()
	all, samples := &strings.Builder{}, filepath.Join(dir, "samples")
	if err := os.Mkdir(samples, 0o755); err != nil {
		t.Fatal(err)
	}
	w := csv.NewWriter(all)
	w.Comma = ';'
	w.Write([]string{"what", "name", "to", "from"})
	for id, list := range rows {
		one := &strings.Builder{}
		for _, r := range list {
			w.Write([]string{codes[r.State], id, strconv.FormatFloat(r.End.Seconds(), 'f', -1, 64), strconv.FormatFloat(r.Start.Seconds(), 'f', -1, 64)})
			fmt.Fprintf(one, "%d\t%s\n", 1+r.Start.Microseconds(), r.State)
		}
		fmt.Fprintf(one, "%d\tS1\n", 1+list[len(list)-1].End.Microseconds()) // closes the last state
		writeText(t, filepath.Join(samples, id+".tsv"), one.String())
	}
	w.Flush()
	for _, tt := range []struct {
		name string
		of   source.Predictions
	}{
		{"our folder", source.Predictions{Path: folder}},
		{"Parquet file", source.Predictions{Path: table.PartsOf[table.State](folder).Dir}},
		{"one file for all", source.Predictions{Path: writeText(t, filepath.Join(dir, "all.csv"), all.String()), Format: writeText(t, filepath.Join(dir, "all.yaml"), shared)}},
		{"a file a recording", source.Predictions{Path: samples, Format: writeText(t, filepath.Join(dir, "samples.yaml"),
			"kind: starts\npaths: [\"{id}.tsv\"]\nheader: absent\ncolumns: {start: 1, state: 2}\nunit: samples\nbase: 1\nrate: 1000000\nstates: {S1: S1, systole: systole, S2: S2, diastole: diastole}\n")}},
	} {
		c.Out = filepath.Join(t.TempDir(), "out")
		got, err := ScorePredictions(context.Background(), c, tt.of, nil)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		a, b := want.Summary.HeadlineRow, got.Summary.HeadlineRow
		if a.TP != b.TP || a.FP != b.FP || a.FN != b.FN || a.TP == 0 || got.Counts.Failed != 0 {
			t.Errorf("%s: %d, %d, %d with %d failed; want %d, %d, %d", tt.name, b.TP, b.FP, b.FN, got.Counts.Failed, a.TP, a.FP, a.FN)
		}
	}
}

func TestMissingPredictionsCountAsMissed(t *testing.T) {
	src := atRest(t, 3)
	c := configFor(t, src)
	rows := predictionRows(t, segmented(t, src, "duration-hmm", nil))
	dir, written, left := t.TempDir(), 0, ""
	text := "name;from;to;what\n"
	for id, list := range rows {
		if written++; written == 1 {
			left = id
			continue
		}
		for _, r := range list {
			text += fmt.Sprintf("%s;%v;%v;%s\n", id, r.Start.Seconds(), r.End.Seconds(), codes[r.State])
		}
	}
	of := source.Predictions{Path: writeText(t, filepath.Join(dir, "all.csv"), text), Format: writeText(t, filepath.Join(dir, "f.yaml"), shared)}
	r, err := ScorePredictions(context.Background(), c, of, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Counts.Failed != 1 || r.Problems[0].Recording != left || !strings.Contains(r.Problems[0].Reason, "no prediction") {
		t.Errorf("counts %+v, problems %+v; want %s without prediction", r.Counts, r.Problems, left)
	}
	if r.Summary.Counts.Failed != 1 || r.Summary.HeadlineRow.FN == 0 {
		t.Errorf("summary counts %+v, %d missed", r.Summary.Counts, r.Summary.HeadlineRow.FN)
	}
}

func TestPredictionsThatCannotBeUsed(t *testing.T) {
	src := atRest(t, 2)
	dir := t.TempDir()
	format := writeText(t, filepath.Join(dir, "f.yaml"), shared)
	head, good := "name;from;to;what\n", "p000001_aortic;0.1;0.2;a\n"
	for _, tt := range []struct {
		name, text, format, want string
	}{
		{"unknown id", head + good + "nobody;0.1;0.2;a\n", format, "all.csv:3: annotation of \"nobody\""},
		{"column missing", "name;from;what\n" + good, format, `all.csv:1: header without a column "to"`},
		{"nothing", head, format, "no file belongs"},
		{"no format", head + good, "", "--format"},
		{"misspelt key", head + good, writeText(t, filepath.Join(dir, "g.yaml"), strings.Replace(shared, "unit", "unti", 1)), `g.yaml:7:1: unknown key "unti"`},
		{"points", head + good, writeText(t, filepath.Join(dir, "h.yaml"), strings.Replace(shared, "intervals", "points", 1)), "states.b: a point marks S1 or S2, not systole"},
		{"no key", head + good, writeText(t, filepath.Join(dir, "i.yaml"), strings.Replace(shared, "key: name\n", "", 1)), "which column names the recording"},
	} {
		c := configFor(t, src)
		of := source.Predictions{Path: writeText(t, filepath.Join(dir, "all.csv"), tt.text), Format: tt.format}
		if _, err := ScorePredictions(context.Background(), c, of, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}

	// What is wrong with one recording fails that one, with file and line.
	c := configFor(t, src)
	of := source.Predictions{Path: writeText(t, filepath.Join(dir, "all.csv"), head+good+"p000001_aortic;0.4;0.3;b\n"), Format: format}
	r, err := ScorePredictions(context.Background(), c, of, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.Counts.Failed != 2 || !strings.Contains(r.Problems[0].Reason, "all.csv:3: end") {
		t.Errorf("problems %+v", r.Problems)
	}

	// Parquet of another data set names file and row.
	other := segmented(t, village(t), "shannon-peaks", nil)
	if _, err := ScorePredictions(context.Background(), configFor(t, src), source.Predictions{Path: other}, nil); err == nil || !strings.Contains(err.Error(), "part-000000.parquet:1: prediction for recording") {
		t.Errorf("unknown id in Parquet: %v", err)
	}
}

// The tables of a scoring by other rules carry a digest that holds these rules,
// and a plan with it.
func TestScoringByOtherRulesHasItsOwnDigest(t *testing.T) {
	src := atRest(t, 2)
	folder := segmented(t, src, "duration-hmm", nil)
	digests := map[string]bool{}
	for _, anchor := range []eval.Anchor{eval.Centre, eval.Onset} {
		c := configFor(t, src)
		c.Scoring.Anchor = anchor.String()
		if _, err := scoring.Score(context.Background(), c, folder, nil); err != nil {
			t.Fatal(err)
		}
		r, err := table.OpenParts[table.Score](table.PartsOf[table.Score](c.Out))
		if err != nil {
			t.Fatal(err)
		}
		digest := r.Metadata().Config
		content, err := os.ReadFile(filepath.Join(c.Out, rundir.ScoringFile))
		if err != nil || !strings.Contains(string(content), digest) {
			t.Errorf("%s does not hold the digest %s: %v", rundir.ScoringFile, digest, err)
		}
		digests[digest] = true
	}
	plan, err := rundir.ReadPlan(folder)
	if err != nil {
		t.Fatal(err)
	}
	if len(digests) != 2 || digests[plan.Digest] {
		t.Errorf("digests %v of two scorings of the plan %s", digests, plan.Digest)
	}
}

// Points at the middle of each sound score at the centre as the intervals that they
// were taken from, whichever way they come in, and from the tables again. What needs
// durations is not there, and is refused.
func TestPointsAsPredictions(t *testing.T) {
	src := atRest(t, 4)
	c := configFor(t, src)
	folder := segmented(t, src, "shannon-peaks", nil)
	want, err := scoring.Score(context.Background(), c, folder, nil)
	if err != nil {
		t.Fatal(err)
	}
	counts := func(r *rundir.Report) (list []eval.Score) {
		for _, s := range r.Summary.Scores {
			if s.Anchor == eval.Centre && s.Stratum == "" && s.Aggregate == eval.Pooled {
				list = append(list, eval.Score{Class: s.Class, ToleranceMS: s.ToleranceMS, TP: s.TP, FP: s.FP, FN: s.FN})
			}
		}
		return list
	}
	dir, text := t.TempDir(), "name,at,sound\n"
	w, err := table.Create[table.State](filepath.Join(dir, "points.parquet"), nil, table.Metadata{Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	rows := predictionRows(t, folder)
	for _, id := range slices.Sorted(maps.Keys(rows)) {
		for _, r := range rows[id] {
			if r.State != "S1" && r.State != "S2" {
				continue
			}
			r.Start = pcg.Interval{Start: r.Start, End: r.End}.Centre()
			r.End = r.Start
			text += fmt.Sprintf("%s,%s,%s\n", id, strconv.FormatFloat(r.Start.Seconds(), 'f', -1, 64), r.State)
			if err := w.Append(r, table.DynamicValues{}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	format := writeText(t, filepath.Join(dir, "points.yaml"), "kind: points\nkey: name\nmatch: \"{id}\"\nheader: present\ncolumns: {time: at, state: sound}\nunit: seconds\nstates: {S1: S1, S2: S2}\n")
	for name, of := range map[string]source.Predictions{
		"text":    {Path: writeText(t, filepath.Join(dir, "points.csv"), text), Format: format},
		"parquet": {Path: filepath.Join(dir, "points.parquet")},
	} {
		c.Out = filepath.Join(t.TempDir(), "out")
		got, err := ScorePredictions(context.Background(), c, of, nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if diff := cmp.Diff(counts(want), counts(got)); diff != "" || got.Summary.HeadlineRow.TP == 0 {
			t.Errorf("%s: %s", name, diff)
		}
		for _, s := range got.Summary.Scores {
			if s.Anchor != eval.Centre {
				t.Fatalf("%s: points have a score at the %v", name, s.Anchor)
			}
		}
		if got.Summary.Frames.Total != 0 || got.Summary.Timing.Place("S1 onset") != nil {
			t.Errorf("%s: states over time or boundaries of points", name)
		}
		for _, r := range recordingsOf(t, c.Out) {
			if r.SegmentationKind != table.Points {
				t.Errorf("%s: recording %s has segmentation of kind %q", name, r.Recording, r.SegmentationKind)
			}
		}
		again := c
		again.Out = filepath.Join(t.TempDir(), "again")
		if _, err := scoring.Score(context.Background(), again, c.Out, nil); err != nil {
			t.Fatal(err)
		}
		for _, file := range []string{"summary.json"} {
			a, b := tablesOf(t, c.Out)[file], tablesOf(t, again.Out)[file]
			if len(a) == 0 || !bytes.Equal(a, b) {
				t.Errorf("%s: %s from the tables differs", name, file)
			}
		}
		extract := configFor(t, src)
		if _, err := Extract(context.Background(), extract, c.Out, table.Predicted, nil); err == nil || !strings.Contains(err.Error(), "holds points, which do not say how long a state lasts") {
			t.Errorf("%s: extract: %v", name, err)
		}
	}
}
