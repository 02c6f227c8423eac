package network

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
)

// checkpoint is the state of a Trainer between two steps, as JSON.
type checkpoint struct {
	Version     int      `json:"checkpoint_version"`
	Fingerprint string   `json:"fingerprint"` // of the options and the examples
	Step        int      `json:"step"`
	Weights     []byte   `json:"weights"`
	First       []byte   `json:"first_moments"`
	Second      []byte   `json:"second_moments"`
	Loss        float64  `json:"epoch_loss"` // of the epoch in progress
	Frames      int      `json:"epoch_frames"`
	Best        []byte   `json:"best_weights,omitempty"`
	BestLoss    *float64 `json:"best_loss,omitempty"` // absent without people kept aside
	BestEpoch   int      `json:"best_epoch,omitempty"`
}

const checkpointVersion = 1

// ErrOtherTraining is wrapped by Restore where the checkpoint belongs to other
// options or other examples.
var ErrOtherTraining = errors.New("checkpoint of another training")

// Save writes a checkpoint from which Restore goes on.
func (t *Trainer) Save(w io.Writer) error {
	c := checkpoint{
		Version: checkpointVersion, Fingerprint: t.fingerprint(), Step: t.adam.Step,
		Weights: packFloats(t.net.Weights), First: packFloats(t.adam.First), Second: packFloats(t.adam.Second),
		Loss: t.epoch.loss, Frames: t.epoch.frames, BestEpoch: t.bestEpoch,
	}
	if t.best != nil {
		c.Best = packFloats(t.best.Weights)
		if !math.IsNaN(t.bestLoss) {
			c.BestLoss = &t.bestLoss
		}
	}
	return json.NewEncoder(w).Encode(c)
}

// Restore sets a trainer, made with the same examples and options, to the state
// of a checkpoint. Run then ends with the weights that an uninterrupted run
// would have given. On an error the trainer is as before.
func (t *Trainer) Restore(r io.Reader) error {
	var c checkpoint
	if err := json.NewDecoder(r).Decode(&c); err != nil {
		return fmt.Errorf("checkpoint: %w", err)
	}
	if c.Version != checkpointVersion {
		return fmt.Errorf("checkpoint: version %d, this program reads %d: train from the start", c.Version, checkpointVersion)
	}
	if c.Fingerprint != t.fingerprint() {
		return fmt.Errorf("checkpoint: %w: options, recordings or annotations differ; use those it was made with, or train from the start", ErrOtherTraining)
	}
	if c.Step < 0 || c.Step > t.schedule.steps || c.Frames < 0 || c.BestEpoch < 0 || c.BestEpoch > t.options.Epochs {
		return fmt.Errorf("checkpoint: step %d of %d, epoch %d of %d: the file is damaged", c.Step, t.schedule.steps, c.BestEpoch, t.options.Epochs)
	}
	return t.restore(c)
}

func (t *Trainer) restore(c checkpoint) error {
	var arrays [4][]float32
	for i, packed := range [][]byte{c.Weights, c.First, c.Second, c.Best} {
		if i == 3 && c.BestEpoch == 0 {
			break
		}
		x, err := unpackFloats(packed)
		if err != nil {
			return fmt.Errorf("checkpoint: %w", err)
		}
		if _, err := fromWeights(t.options.Architecture, x); err != nil {
			return fmt.Errorf("checkpoint: %w", err)
		}
		arrays[i] = x
	}
	t.best, t.bestEpoch, t.bestLoss = nil, c.BestEpoch, math.Inf(1)
	if c.BestEpoch > 0 {
		t.best = &Network{Architecture: t.net.Architecture, Weights: arrays[3], layers: t.net.layers}
		t.bestLoss = math.NaN()
		if c.BestLoss != nil {
			t.bestLoss = *c.BestLoss
		}
	}
	copy(t.net.Weights, arrays[0])
	t.adam.First, t.adam.Second, t.adam.Step = arrays[1], arrays[2], c.Step
	t.epoch = lossSums{c.Loss, c.Frames}
	t.order = nil
	return nil
}

// fingerprint identifies the options and the examples.
func (t *Trainer) fingerprint() string {
	h := sha256.New()
	fmt.Fprintf(h, "%+v", t.options)
	for i := range t.examples {
		e := &t.examples[i]
		fmt.Fprintf(h, "\n%q %q %d %d %d\n", e.Recording, e.Person, e.Frames, e.Input.Rows, e.Input.Cols)
		for _, iv := range e.Intervals {
			fmt.Fprintln(h, int64(iv.Start), int64(iv.End), uint8(iv.State))
		}
		h.Write(packFloats(e.Input.Data))
	}
	return hex.EncodeToString(h.Sum(nil))
}
