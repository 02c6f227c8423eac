package segment

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"math"
	"time"

	"phonocycle/pipeline/segment/network"
	"phonocycle/pipeline/signal"
)

// convFitOptions are the choices of fitting conv-hsmm.
type convFitOptions struct {
	Training      network.Options `yaml:",inline"`
	LearnSuspects bool            `yaml:"learn-suspects" json:"learn_suspects"` // also learn from references in which S1 and S2 look exchanged
}

// defaultConvFitOptions keeps a twentieth of the people aside to choose the epoch.
func defaultConvFitOptions() *convFitOptions {
	o := &convFitOptions{Training: network.DefaultOptions()}
	o.Training.Validation = 0.05
	return o
}

// fitConvHSMM is the Fit of the method. When ctx ends after the first epoch it
// returns the parameters with the best network so far along with the error.
func fitConvHSMM(ctx context.Context, options any, examples iter.Seq2[Example, error], how Fitting) (json.RawMessage, error) {
	o := options.(*convFitOptions)
	f := convFit{
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
	for _, s := range fitted.suspects {
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

// convFit is a fit of conv-hsmm. The zero value of each field but Training is
// usable. It holds the input of the network for all recordings, some 10 kB for
// each second of them with the default front end.
type convFit struct {
	Training network.Options
	Workers  int // goroutines; they do not change the result

	// LearnSuspects keeps references in which S1 and S2 look exchanged, see
	// suspects, among those learnt from.
	LearnSuspects bool

	// Progress is told of each epoch.
	Progress func(network.Progress)

	// Resume is a checkpoint to go on from.
	Resume io.Reader

	// Checkpoint is called after each epoch with a function that writes a
	// checkpoint. An error ends the fit.
	Checkpoint func(save func(io.Writer) error) error
}

// convFitted is what a fit returns beside the parameters.
type convFitted struct {
	Epoch     int       // the epoch whose network was kept
	Learnt    int       // recordings learnt from
	KeptAside int       // recordings that chose the epoch
	Left      int       // recordings without annotated intervals, too short or silent
	suspects  []suspect // references left out, unless LearnSuspects
}

// Fit estimates the parameters of conv-hsmm: state priors and sojourns from
// all references, the weights of the network from all but the suspects. When ctx
// ends after the first epoch, it returns the parameters with the best network so
// far and the error of the context.
func (f convFit) Fit(ctx context.Context, examples iter.Seq2[Example, error]) (params []byte, fitted convFitted, err error) {
	set, fitted, err := f.collect(examples)
	if err != nil {
		return nil, fitted, fmt.Errorf("conv-hsmm: %w", err)
	}
	m := &convModel{FrontEnd: f.Training.FrontEnd, Exchange: convExchange}
	var references []personReference
	for i := range set {
		references = append(references, personReference{set[i].Person, set[i].Intervals})
	}
	if m.Priors, err = statePriors(references); err != nil {
		return nil, fitted, fmt.Errorf("conv-hsmm: %w", err)
	}
	if m.Timing, err = estimateRegression(references); err != nil {
		return nil, fitted, fmt.Errorf("conv-hsmm: %w", err)
	}
	set = f.withoutSuspects(set, m.Timing, &fitted)
	trainer, err := f.train(ctx, set)
	if trainer != nil {
		m.Network, fitted.Epoch = trainer.Best()
		fitted.Learnt, fitted.KeptAside, _ = trainer.Size()
	}
	if m.Network == nil {
		return nil, fitted, fmt.Errorf("conv-hsmm: %w", err)
	}
	params, jsonErr := json.Marshal(m)
	if jsonErr != nil {
		return nil, fitted, fmt.Errorf("conv-hsmm: %w", jsonErr)
	}
	if err != nil {
		err = fmt.Errorf("conv-hsmm: %w", err)
	}
	return params, fitted, err
}

// collect measures the examples that have an annotation.
func (f convFit) collect(examples iter.Seq2[Example, error]) (set []network.Example, fitted convFitted, err error) {
	frontEnd, err := network.NewFrontEnd(f.Training.FrontEnd, signal.AnalysisRate)
	if err != nil {
		return nil, fitted, err
	}
	for e, err := range examples {
		if err != nil {
			return nil, fitted, err
		}
		if len(e.Reference.Intervals) == 0 || checkInput(e.X) != nil {
			fitted.Left++
			continue
		}
		set = append(set, network.Example{
			Recording: e.Recording, Person: e.Person,
			Input: frontEnd.Fine(e.X), Frames: frontEnd.Frames(len(e.X)),
			Intervals: e.Reference.Intervals,
		})
	}
	if len(set) == 0 {
		return nil, fitted, fmt.Errorf("no annotated recording to fit to")
	}
	return set, fitted, nil
}

// withoutSuspects finds the suspects and, unless told otherwise, leaves them out.
func (f convFit) withoutSuspects(set []network.Example, timing *sojournRegression, fitted *convFitted) []network.Example {
	fitted.suspects = suspects(set, timing)
	if f.LearnSuspects {
		return set
	}
	left := make(map[string]bool)
	for _, s := range fitted.suspects {
		left[s.Recording] = true
	}
	var kept []network.Example
	for _, e := range set {
		if !left[e.Recording] {
			kept = append(kept, e)
		}
	}
	return kept
}

// train runs the trainer, which it returns with an error if it has been stopped.
func (f convFit) train(ctx context.Context, set []network.Example) (*network.Trainer, error) {
	t, err := network.NewTrainer(set, f.Training)
	if err != nil {
		return nil, err
	}
	if f.Resume != nil {
		if err := t.Restore(f.Resume); err != nil {
			return nil, err
		}
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	err = t.Run(ctx, f.Workers, func(p network.Progress) {
		if f.Progress != nil {
			f.Progress(p)
		}
		if f.Checkpoint != nil {
			if err := f.Checkpoint(t.Save); err != nil {
				cancel(fmt.Errorf("checkpoint: %w", err))
			}
		}
	})
	if cause := context.Cause(ctx); err != nil && cause != nil && ctx.Err() != nil && cause != ctx.Err() {
		return t, cause
	}
	return t, err
}
