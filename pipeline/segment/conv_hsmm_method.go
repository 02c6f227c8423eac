package segment

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math"
	"os"
	"path/filepath"
	"time"

	"phonocycle/pipeline/segment/network"
)

// convHSMM joins the package network and the Decoder. The idea of a network that
// feeds a hidden Markov model is that of Bourlard and Morgan 1994; for heart
// sounds it was taken up by Renna, Oliveira and Coimbra 2019.
var convHSMM = Method{
	Name:  "conv-hsmm",
	Title: "dilated convolutional network and hidden semi-Markov model",
	Citation: "Renna F, Oliveira J, Coimbra MT. Deep convolutional neural networks for heart sound segmentation. " +
		"IEEE J Biomed Health Inform 2019;23:2435-2445 (the idea; network, features and decoding are this project's)",
	DOI:        "10.1109/JBHI.2019.2894222",
	NeedsModel: true,
	Defaults:   func() any { return DefaultConvOptions() },
	New: func(options any, model []byte) (Segmenter, error) {
		m, err := ParseModel(model, "conv-hsmm")
		if err != nil {
			return nil, err
		}
		return NewConvHSMM(options.(*ConvOptions), m.Params)
	},
	FitDefaults: func() any { return DefaultConvFitOptions() },
	Fit:         fitConvHSMM,
}

// ConvFitOptions are the choices of fitting conv-hsmm.
type ConvFitOptions struct {
	Training      network.Options `yaml:",inline"`
	LearnSuspects bool            `yaml:"learn-suspects" json:"learn_suspects"` // also learn from references in which S1 and S2 look exchanged
}

// DefaultConvFitOptions keeps a twentieth of the people aside to choose the epoch.
func DefaultConvFitOptions() *ConvFitOptions {
	o := &ConvFitOptions{Training: network.DefaultOptions()}
	o.Training.Validation = 0.05
	return o
}

// fitConvHSMM is the Fit of the method. When ctx ends after the first epoch it
// returns the parameters with the best network so far along with the error.
func fitConvHSMM(ctx context.Context, options any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	o := options.(*ConvFitOptions)
	f := ConvFit{
		Training: o.Training, Workers: max(1, how.Workers), LearnSuspects: o.LearnSuspects,
		Progress: func(p network.Progress) { how.say("%s", describe(p)) },
	}
	if how.Checkpoint != "" {
		resume, err := openCheckpoint(how.Checkpoint)
		if err != nil {
			return nil, err
		}
		if resume != nil {
			defer resume.Close()
			f.Resume = resume
			how.say("going on from %s", how.Checkpoint)
		}
		f.Checkpoint = func(save func(io.Writer) error) error { return replaceFile(how.Checkpoint, save) }
	}
	params, fitted, err := f.Fit(ctx, examples)
	for _, s := range fitted.Suspects {
		how.say("recording %s: S1 to S2 lasts %.3f s as annotated, in the person's other recordings about %.3f s: S1 and S2 look exchanged%s",
			s.Recording, s.Systole, s.Expected, map[bool]string{false: "; not learnt from", true: ""}[o.LearnSuspects])
	}
	if params != nil {
		how.say("kept the network of epoch %d: %d recordings learnt from, %d kept aside, %d left out", fitted.Epoch, fitted.Learnt, fitted.KeptAside, fitted.Left)
	}
	return params, err
}

// describe puts progress in a line.
func describe(p network.Progress) string {
	line := fmt.Sprintf("epoch %d of %d: loss %.3f", p.Epoch, p.Epochs, p.TrainingLoss)
	if !math.IsNaN(p.ValidationLoss) {
		line += fmt.Sprintf(", on people kept aside %.3f with %.1f %% of frames right", p.ValidationLoss, 100*p.ValidationAccuracy)
	}
	return line + fmt.Sprintf(", learning rate %.2g, %.0f frames/s, %v left", p.LearningRate, p.FramesPerSecond, p.Remaining.Round(time.Second))
}

// openCheckpoint opens the checkpoint to go on from, nil if there is none yet.
func openCheckpoint(path string) (*os.File, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("checkpoint: %w", err)
	}
	return f, nil
}

// replaceFile writes a file beside path and renames it, so that path holds a
// whole file at any time.
func replaceFile(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // fails once renamed
	if err := errors.Join(write(f), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
