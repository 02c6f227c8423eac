package segment

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment/network"
	"phonocycle/pipeline/signal"
)

// shortFitOptions are those of a fit of three epochs, the best of which is chosen
// by people kept aside, to recordings and copies of them.
func shortFitOptions() *convFitOptions {
	o := smallFitOptions()
	o.Training.Epochs, o.Training.Validation = 3, 0.2
	o.Copies = changedCopies{Number: 2, LowestSNR: 0, HighestSNR: 20, BandLimited: 0.5, Share: 0.5}
	return o
}

// TestConvMethod fits through the method, stops it, goes on from the checkpoint
// file and segments with the model file.
func TestConvMethod(t *testing.T) {
	whole, err := convHSMM.Fit(context.Background(), shortFitOptions(), syntheticSet(12), Fitting{Workers: 2})
	if err != nil {
		t.Fatal(err)
	}

	file := filepath.Join(t.TempDir(), "checkpoint.json")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var said []string
	say := func(s string) {
		said = append(said, s)
		cancel()
	}
	best, err := convHSMM.Fit(ctx, shortFitOptions(), syntheticSet(12), Fitting{Checkpoint: file, Progress: say})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("stopped with error %v", err)
	}
	if _, err := newConvSegmenter(defaultConvOptions(), best); err != nil {
		t.Errorf("the best so far is of no use: %v", err)
	}
	if len(said) == 0 || !strings.HasPrefix(said[0], "epoch 1 of 3: loss ") || !strings.Contains(said[0], "on people kept aside") || !strings.HasPrefix(said[len(said)-1], "kept the network of epoch 1:") {
		t.Errorf("said %q", said)
	}
	resumed, err := convHSMM.Fit(context.Background(), shortFitOptions(), syntheticSet(12), Fitting{Checkpoint: file})
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(whole, resumed) {
		t.Error("a resumed fit differs from an uninterrupted one")
	}
	if left, err := filepath.Glob(file + ".*"); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v (%v)", left, err)
	}

	model, err := (&Model{Method: convHSMM.Name, Params: whole}).Marshal()
	if err != nil {
		t.Fatal(err)
	}
	s, err := convHSMM.New(convHSMM.Defaults(), model)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := synthetic(4, 9, 5)
	if _, err := s.Segment(context.Background(), NewInput(x)); err != nil {
		t.Error(err)
	}
	other, err := (&Model{Method: "logistic-hsmm", Params: whole}).Marshal()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := convHSMM.New(convHSMM.Defaults(), other); !errors.Is(err, errModelMethod) {
		t.Errorf("a model of another method: %v", err)
	}
}

// TestConvCheckpointOfAnother refuses to go on from the checkpoint of another fit.
func TestConvCheckpointOfAnother(t *testing.T) {
	file := filepath.Join(t.TempDir(), "checkpoint.json")
	if _, err := convHSMM.Fit(context.Background(), shortFitOptions(), syntheticSet(12), Fitting{Checkpoint: file}); err != nil {
		t.Fatal(err)
	}
	o := shortFitOptions()
	o.Training.Seed++
	if _, err := convHSMM.Fit(context.Background(), o, syntheticSet(12), Fitting{Checkpoint: file}); !errors.Is(err, network.ErrOtherTraining) {
		t.Errorf("another seed: %v", err)
	}
	if err := os.WriteFile(file, []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := convHSMM.Fit(context.Background(), shortFitOptions(), syntheticSet(12), Fitting{Checkpoint: file}); err == nil || !strings.Contains(err.Error(), "checkpoint") {
		t.Errorf("half a checkpoint: %v", err)
	}
	if _, err := convHSMM.Fit(context.Background(), shortFitOptions(), syntheticSet(12), Fitting{Checkpoint: filepath.Join(file, "below")}); err == nil || !strings.Contains(err.Error(), "checkpoint") {
		t.Errorf("a checkpoint that cannot be written: %v", err)
	}
}

// TestConvBuiltin: the model that the program brings along can be used, names whom
// it has learnt from and is small.
func TestConvBuiltin(t *testing.T) {
	content, err := os.ReadFile("../../configs/models/conv-hsmm.json")
	if err != nil {
		t.Fatal(err)
	}
	if len(content) > 300_000 {
		t.Errorf("%d bytes: want a few hundred kilobytes at most", len(content))
	}
	m, err := ParseModel(content, convHSMM.Name)
	if err != nil {
		t.Fatal(err)
	}
	if len(m.People) != 151 || m.Recordings != 558 || m.Score == nil {
		t.Errorf("%d people, %d recordings, score %v", len(m.People), m.Recordings, m.Score)
	}
	s, err := convHSMM.New(convHSMM.Defaults(), content)
	if err != nil {
		t.Fatal(err)
	}
	x, _ := synthetic(6, 1, 8)
	got, err := s.Segment(context.Background(), NewInput(x))
	if err != nil {
		t.Fatal(err)
	}
	if err := got.Check(pcg.FromSamples(int64(len(x)), signal.AnalysisRate)); err != nil {
		t.Error(err)
	}
}
