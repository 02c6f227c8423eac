package pipeline

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
)

// withECG writes recordings with an ECG whose R waves come 60 ms before the middle
// of each annotated S1. One second of each ECG is lost.
func withECG(t *testing.T, n int) config.Input {
	t.Helper()
	const rate, delay, seconds = 500, 0.06, 16
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, n, seconds*time.Second, 3); err != nil {
		t.Fatal(err)
	}
	annotations, err := filepath.Glob(filepath.Join(dir, "recordings", "*.csv"))
	if err != nil || len(annotations) != n {
		t.Fatalf("%d annotations: %v", len(annotations), err)
	}
	for _, path := range annotations {
		x := make([]float64, rate*seconds)
		for _, at := range middlesOfS1(t, path) {
			for i := range x {
				d := float64(i)/rate - (at - delay)
				x[i] += math.Exp(-math.Pow(d/0.015, 2))
			}
		}
		var samples []byte
		for i, v := range x {
			code := int16(math.Round(1000 * v))
			if i >= 8*rate && i < 9*rate {
				code = math.MinInt16 // no sample
			}
			samples = binary.LittleEndian.AppendUint16(samples, uint16(code))
		}
		base := strings.TrimSuffix(path, ".csv")
		id := filepath.Base(base)
		writeText(t, base+".dat", string(samples))
		writeText(t, base+".hea", fmt.Sprintf("%s 1 %d %d\n%s.dat 16 1000 16 0 0 0 0 ECG\n", id, rate, len(x), id))
	}
	layout := filepath.Join(dir, "many.yaml")
	text, err := os.ReadFile(layout)
	if err != nil {
		t.Fatal(err)
	}
	writeText(t, layout, string(text)+"  - {name: ecg, kind: ecg, paths: [\"{dir}/{id}.hea\"], signal: ECG, delay: 60ms, optional: true}\n")
	return config.Input{Data: dir, Layout: layout}
}

// middlesOfS1 returns the middle of each S1 of an annotation in seconds.
func middlesOfS1(t *testing.T, path string) (middles []float64) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[2] == "S1" {
			start, _ := strconv.ParseFloat(row[0], 64)
			end, _ := strconv.ParseFloat(row[1], 64)
			middles = append(middles, (start+end)/2)
		}
	}
	return middles
}

// A run is scored against the ECG by the rules of this kind, and the tables alone give
// the same bytes: for any number of workers, by score, and after an interruption.
func TestRunAgainstAnECG(t *testing.T) {
	src := withECG(t, 4)
	c := configFor(t, src)
	c.Reference, c.PartSize = "ecg", 2
	summary := run(t, c).Summary
	h := summary.HeadlineRow
	if h.Class != eval.S1 || h.ToleranceMS != 100 || h.F1 < 0.9 || summary.Counts.Scored != 4 {
		t.Errorf("headline %+v, %d scored", h, summary.Counts.Scored)
	}
	if sweep := summary.Rules.TolerancesMS; sweep[len(sweep)-1] != 200 {
		t.Errorf("sweep %v, want 200 ms at its end", sweep)
	}
	lost := 0
	for row, err := range table.ReadParts[table.State](table.PartsOf[table.State](c.Out)) {
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case row.Origin == table.Predicted:
		case row.IsUnannotated():
			lost++
			if row.Start > 8060*time.Millisecond || row.End < 9*time.Second {
				t.Errorf("recording %s: not annotated from %v to %v, want the lost second", row.Recording, row.Start, row.End)
			}
		case row.State != "S1" || !row.IsPoint():
			t.Errorf("recording %s: the ECG marks %s from %v to %v", row.Recording, row.State, row.Start, row.End)
		}
	}
	if lost != 4 {
		t.Errorf("%d stretches without annotation, want 4", lost)
	}
	for row, err := range table.ReadParts[table.Score](table.PartsOf[table.Score](c.Out)) {
		if err != nil || row.Class != "S1" {
			t.Fatalf("scores of %s: %v", row.Class, err)
		}
	}
	for row, err := range table.ReadParts[table.Match](table.PartsOf[table.Match](c.Out)) {
		if err != nil || row.Class != "S1" {
			t.Fatalf("matches of %s: %v", row.Class, err)
		}
	}
	want := tablesOf(t, c.Out)

	other := c
	other.Out, other.Workers = filepath.Join(t.TempDir(), "out"), 1
	run(t, other)
	sameTables(t, "one worker", want, tablesOf(t, other.Out))
	if err := table.PartsOf[table.State](other.Out).Remove(1); err != nil {
		t.Fatal(err)
	}
	other.Resume = true
	run(t, other)
	sameTables(t, "resumed", want, tablesOf(t, other.Out))

	score := configFor(t, src)
	score.Scoring = c.Scoring
	report, err := scoring.Score(context.Background(), score, c.Out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := report.Summary.HeadlineRow; got.TP != h.TP || got.FP != h.FP || got.FN != h.FN {
		t.Errorf("from tables %+v, in the run %+v", got, h)
	}
	if got := tablesOf(t, score.Out)["summary.json"]; string(got) != string(want["summary.json"]) {
		t.Error("the summary from tables differs from that of the run")
	}

	// The reference digest covers the samples: a changed one is found.
	files, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.dat"))
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	content, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	content[0]++
	writeText(t, files[0], string(content))
	if err := table.PartsOf[table.State](other.Out).Remove(1); err != nil {
		t.Fatal(err)
	}
	if _, err := Run(context.Background(), other, nil); err == nil || !strings.Contains(err.Error(), ".hea has changed") {
		t.Errorf("resumed with another ECG: %v", err)
	}
}

// A fit to an ECG is refused with what to do. A cross-validation fits to the states
// and scores against the ECG: the models are those of one that scores against the
// states too.
func TestECGHasNoDurations(t *testing.T) {
	src := withECG(t, 8)
	c := configFor(t, src)
	c.Reference, c.Folds, c.Method = "ecg", 2, "duration-hmm"
	_, err := train.Fit(context.Background(), c, train.Target{Model: filepath.Join(t.TempDir(), "m.json")}, nil)
	if err == nil || !strings.Contains(err.Error(), "the reference ecg marks points, which do not say how long a state lasts: fit to --reference states") {
		t.Errorf("fit: %v", err)
	}
	states := c
	states.Reference, states.Out = "states", filepath.Join(t.TempDir(), "states")
	for _, c := range []config.Config{c, states} {
		if _, err := Crossval(context.Background(), c, nil); err != nil {
			t.Fatalf("crossval against %s: %v", c.Reference, err)
		}
	}
	plan, err := rundir.OpenTables(c.Out)
	if err != nil || plan.Reference != "ecg" || plan.FitReference != "states" {
		t.Errorf("scored against %q, fitted to %q: %v", plan.Reference, plan.FitReference, err)
	}
	for _, name := range []string{"fold-00.json", "fold-01.json"} {
		var models [2][]byte
		for i, dir := range []string{c.Out, states.Out} {
			if models[i], err = os.ReadFile(filepath.Join(dir, "models", name)); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(models[0], models[1]) {
			t.Errorf("model %s depends on the reference of the scores", name)
		}
	}
	c.Scoring.Anchor = "onset"
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "the reference ecg marks points, which have a centre only") {
		t.Errorf("anchor: %v", err)
	}
}
