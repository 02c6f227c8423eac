package pipeline

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/degraded"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
)

// degradedCopy returns a copy of a data set under a condition.
func degradedCopy(t *testing.T, src config.Input, condition string, seed uint64) config.Input {
	t.Helper()
	c, err := degrade.Parse(condition)
	if err != nil {
		t.Fatal(err)
	}
	out := config.Input{Data: filepath.Join(t.TempDir(), "copy"), Layout: src.Layout}
	if _, err := degraded.Write(context.Background(), degraded.Options{Input: src, Condition: c, Seed: seed, Out: out.Data, Workers: 2}, nil); err != nil {
		t.Fatal(err)
	}
	return out
}

// inSamples returns recordings in the form of layout cinc2016, whose references count
// samples from 1.
func inSamples(t *testing.T, n int) config.Input {
	t.Helper()
	src := atRest(t, n)
	copied, names := copyAsCinc2016(t, src)
	for id, name := range names {
		content, err := os.ReadFile(filepath.Join(src.Data, "recordings", id+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(content)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		var text strings.Builder
		for _, row := range rows[1:] {
			start, err := strconv.ParseFloat(row[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&text, "%d,%s\n", int(math.Round(start*4000))+1, row[2])
		}
		writeText(t, filepath.Join(copied.Data, "training-a", name+"_StateAns.csv"), text.String())
	}
	return copied
}

// A run over a copy and a run that changes the audio as it is read give the same rows,
// whatever the format of the copy, and score against the same reference, whose samples
// are those of the original.
func TestCopyAndConditionAgree(t *testing.T) {
	src := inSamples(t, 1)
	clean := configFor(t, src)
	clean.Method = "shannon-peaks"
	run(t, clean)
	for _, tt := range []struct{ condition, encoding string }{
		{"noise=pink,snr=5", "16-bit PCM"},
		{"noise=white,snr=-30", "32-bit float"},
		{"bits=6,clip=0.05,low-cut=40,high-cut=200,rate=731,gaps=0.1,gap-length=100ms", "16-bit PCM"},
	} {
		a := configFor(t, degradedCopy(t, src, tt.condition, 3))
		b := configFor(t, src)
		b.Condition, b.ConditionSeed = tt.condition, 3
		a.Method, b.Method = "shannon-peaks", "shannon-peaks"
		for _, summary := range []*eval.Summary{run(t, a).Summary, run(t, b).Summary} {
			var text strings.Builder
			if err := summary.WriteText(&text); err != nil || !strings.Contains(strings.Join(strings.Fields(text.String()), " "), "audio "+tt.condition+" (seed 3)") {
				t.Errorf("%s: the scores do not say so, %v:\n%s", tt.condition, err, text.String())
			}
		}
		for i, row := range recordingsOf(t, a.Out) {
			other, was := recordingsOf(t, b.Out)[i], recordingsOf(t, clean.Out)[i]
			if row.Encoding != tt.encoding || row.AudioDigest == was.AudioDigest || other.AudioDigest != was.AudioDigest {
				t.Errorf("%s: %s in the copy, digests %s, %s, %s", tt.condition, row.Encoding, row.AudioDigest, other.AudioDigest, was.AudioDigest)
			}
			if *row.Annotated != *was.Annotated {
				t.Errorf("%s: %v are annotated, %v in the original", tt.condition, *row.Annotated, *was.Annotated)
			}
			if *row.Duration != *was.Duration || *other.Duration != *was.Duration {
				t.Errorf("%s: lasts %v in the copy and %v as it is read, the original %v", tt.condition, *row.Duration, *other.Duration, *was.Duration)
			}
		}
		sameRows(t, a.Out, b.Out, func(r *table.Recording) { r.AudioDigest, r.Encoding, r.Bits, r.Repairs = "", "", nil, "" })
		sameRows(t, a.Out, b.Out, func(*table.State) {})
		sameRows(t, a.Out, b.Out, func(*table.Cycle) {})
		sameRows(t, a.Out, b.Out, func(*table.Match) {})
		want := tt.condition + " (seed 3)"
		of, in := readPlan(t, a.Out), readPlan(t, b.Out)
		if of.AudioCondition() != want || in.AudioCondition() != want || of.Condition != nil || in.DataSets[0].Condition != nil {
			t.Errorf("the plans say %q and %q, want %q", of.AudioCondition(), in.AudioCondition(), want)
		}
		if w := strings.Join(of.Warnings(), "; "); !strings.Contains(w, want) {
			t.Errorf("the tables do not say how the audio was changed: %s", w)
		}
		b.Condition, b.Resume = "noise=pink,snr=6", true
		if _, err := Run(context.Background(), b, nil); err == nil || !strings.Contains(err.Error(), "condition was") {
			t.Errorf("resumed under another condition: %v", err)
		}
	}
}

// A condition over a copy is the same as a copy of the copy, and adds to its history.
func TestConditionOverACopy(t *testing.T) {
	src := atRest(t, 2)
	once := degradedCopy(t, src, "noise=pink,snr=10", 1)
	a := configFor(t, degradedCopy(t, once, "noise=pink,snr=10", 1))
	b := configFor(t, once)
	b.Condition = "noise=pink,snr=10"
	a.Method, b.Method = "shannon-peaks", "shannon-peaks"
	run(t, a)
	run(t, b)
	sameRows(t, a.Out, b.Out, func(r *table.Recording) { r.AudioDigest = "" })
	sameRows(t, a.Out, b.Out, func(*table.Cycle) {})
	const want = "noise=pink,snr=10 (seed 1), then noise=pink,snr=10 (seed 1)"
	if of, in := readPlan(t, a.Out).AudioCondition(), readPlan(t, b.Out).AudioCondition(); of != want || in != want {
		t.Errorf("the plans say %q and %q", of, in)
	}
	mixed := configFor(t, once)
	mixed.Inputs = append(mixed.Inputs, villageCopy(t))
	mixed.Method = "shannon-peaks"
	run(t, mixed)
	if text := readPlan(t, mixed.Out).AudioCondition(); !strings.Contains(text, ": noise=pink,snr=10 (seed 1); screening: as recorded") {
		t.Errorf("of a copy and an original: %s", text)
	}
}

// Whom a model has learnt from is known in a copy by name and by the audio of the
// original, and a model that was fitted to a copy knows the originals.
func TestModelKnowsCopies(t *testing.T) {
	src := village(t)
	noisy := degradedCopy(t, src, "noise=pink,snr=20", 1)
	bare := config.Input{Data: filepath.Join(t.TempDir(), "bare"), Layout: "plain"} // without the table of people
	if err := os.CopyFS(bare.Data, os.DirFS(filepath.Join(src.Data, "recordings"))); err != nil {
		t.Fatal(err)
	}
	models := map[string]string{}
	for name, of := range map[string]config.Input{"clean": src, "noisy": noisy} {
		c := configFor(t, of)
		c.Method = "duration-hmm"
		models[name] = filepath.Join(t.TempDir(), "model.json")
		m := fit(t, c, train.Target{Model: models[name], Date: "2026-02-03"}).Model
		if want := map[string]string{"clean": "", "noisy": "noise=pink,snr=20 (seed 1)"}[name]; m.Condition != want {
			t.Errorf("the %s model says that its audio was changed by %q", name, m.Condition)
		}
	}
	bareCopy := degradedCopy(t, degradedCopy(t, bare, "noise=white,snr=20", 1), "rate=1000", 1)
	for _, tt := range []struct {
		what, model string
		data        config.Input
		want        string
	}{
		{"a copy, by name", "clean", noisy, "fitted on recordings of"},
		{"a copy of a copy, by audio", "clean", bareCopy, "by the audio of recording"},
		{"the originals, by audio", "noisy", bare, "by the audio of recording"},
		{"another copy, by audio", "noisy", bareCopy, "by the audio of recording"},
	} {
		c := configFor(t, tt.data)
		c.Method, c.Model = "duration-hmm", models[tt.model]
		if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.what, err, tt.want)
		}
	}
}

// In a cross-validation a condition changes what is segmented and scored. The models are
// those of the data as they are, and the plan says so.
func TestCrossvalUnderACondition(t *testing.T) {
	clean := configFor(t, village(t))
	clean.Method, clean.Folds = "duration-hmm", 2
	noisy := clean
	noisy.Out = filepath.Join(t.TempDir(), "noisy")
	noisy.Condition = "noise=white,snr=-10"
	a, b := crossval(t, clean), crossval(t, noisy)
	for _, name := range []string{"fold-00.json", "fold-01.json"} {
		want, err := os.ReadFile(filepath.Join(clean.Out, "models", name))
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(filepath.Join(noisy.Out, "models", name))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s differs: %v", name, err)
		}
	}
	if with, without := b.Summary.HeadlineRow.F1, a.Summary.HeadlineRow.F1; !(with < without-0.02) {
		t.Errorf("F1 %.3f with noise, %.3f without", with, without)
	}
	if text := readPlan(t, noisy.Out).AudioCondition(); text != "noise=white,snr=-10 (seed 1); the models are fitted to the audio as recorded" {
		t.Errorf("the plan says %q", text)
	}
	if _, err := train.Fit(context.Background(), noisy, train.Target{Model: filepath.Join(t.TempDir(), "m.json")}, nil); err == nil || !strings.Contains(err.Error(), "copy the data with degrade") {
		t.Errorf("a fit under a condition: %v", err)
	}
}
