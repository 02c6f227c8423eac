package network

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
)

// checkpoint is the state of a Trainer between two steps, as JSON.
type checkpoint struct {
	Version     int     `json:"checkpoint_version"`
	Fingerprint string  `json:"fingerprint"` // of the options and the examples
	Step        int     `json:"step"`
	Weights     []byte  `json:"weights"`
	First       []byte  `json:"first_moments"`
	Second      []byte  `json:"second_moments"`
	Loss        float64 `json:"epoch_loss"` // of the epoch in progress
	Frames      int     `json:"epoch_frames"`
	Best        []byte  `json:"best_weights,omitempty"`
	BestLoss    float64 `json:"best_loss"`
	BestEpoch   int     `json:"best_epoch,omitempty"`
}

const checkpointVersion = 2

// ErrOtherTraining is wrapped by Restore where the checkpoint belongs to other
// options or other examples.
var ErrOtherTraining = errors.New("checkpoint of another training")

// Save returns a checkpoint from which Restore goes on.
func (t *Trainer) Save() ([]byte, error) {
	c := checkpoint{
		Version: checkpointVersion, Fingerprint: t.fingerprint(), Step: t.adam.Step,
		Weights: packFloats(t.net.Weights), First: packFloats(t.adam.First), Second: packFloats(t.adam.Second),
		Loss: t.epoch.loss, Frames: t.epoch.frames, BestEpoch: t.bestEpoch, BestLoss: t.bestLoss,
	}
	if t.best != nil {
		c.Best = packFloats(t.best.Weights)
	}
	return json.Marshal(c)
}

// Restore sets a trainer, made with the same examples and options, to the state
// of a checkpoint. Run then ends with the weights that an uninterrupted run
// would have given. On an error the trainer is as before.
func (t *Trainer) Restore(content []byte) error {
	var c checkpoint
	if err := json.Unmarshal(content, &c); err != nil {
		return err
	}
	if c.Version != checkpointVersion {
		return fmt.Errorf("version %d, this program reads %d: train from the start", c.Version, checkpointVersion)
	}
	if c.Fingerprint != t.fingerprint() {
		return fmt.Errorf("%w: options, recordings or annotations differ; use those it was made with, or train from the start", ErrOtherTraining)
	}
	if c.Step < 0 || c.Step > t.schedule.steps || c.Frames < 0 || c.BestEpoch < 0 || c.BestEpoch > t.options.Epochs {
		return fmt.Errorf("step %d of %d, epoch %d of %d: the file is damaged", c.Step, t.schedule.steps, c.BestEpoch, t.options.Epochs)
	}
	packed := [][]byte{c.Weights, c.First, c.Second}
	if c.BestEpoch > 0 {
		packed = append(packed, c.Best)
	}
	nets := make([]*Network, 4) // weights, moments, which are laid out like them, and best weights
	for i, b := range packed {
		x, err := unpackFloats(b)
		if err == nil {
			nets[i], err = fromWeights(t.options.Architecture, x)
		}
		if err != nil {
			return err
		}
	}
	copy(t.net.Weights, nets[0].Weights)
	t.kernels.set(t.net.Weights)
	t.adam.First, t.adam.Second, t.adam.Step = nets[1].Weights, nets[2].Weights, c.Step
	t.best, t.bestEpoch, t.bestLoss = nets[3], c.BestEpoch, c.BestLoss
	t.epoch = lossSums{c.Loss, c.Frames}
	t.order = nil
	return nil
}

// fingerprint identifies the options and the examples.
func (t *Trainer) fingerprint() string {
	if t.print != "" {
		return t.print
	}
	h := sha256.New()
	fmt.Fprintf(h, "%+v", t.options)
	for i := range t.examples {
		e := &t.examples[i]
		fmt.Fprintf(h, "\n%q %q %d %d %d\n", e.Recording, e.Person, e.Frames, e.Input.Rows, e.Input.Cols)
		for _, iv := range e.Intervals {
			fmt.Fprintln(h, int64(iv.Start), int64(iv.End), uint8(iv.State))
		}
		h.Write(packFloats(e.Input.Data))
		for _, c := range e.Copies {
			h.Write(packFloats(c.Data))
		}
	}
	t.print = hex.EncodeToString(h.Sum(nil))
	return t.print
}
