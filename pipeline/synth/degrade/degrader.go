package degrade

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"phonocycle/pipeline/audio"
)

// Degrader changes recordings, one after the other. It holds filters and buffers for
// the rates that it has met, and serves one goroutine.
type Degrader struct {
	condition Condition
	seed      uint64
	workspace *workspace
}

// BytesPerSample is the memory that a change takes at most for each sample of a
// recording. Noise needs most: up to 64 for a transform of up to twice as many samples,
// and 24 for a filter.
const BytesPerSample = 100

// NewDegrader returns a degrader for one worker. The condition must have been opened.
func NewDegrader(c Condition, seed uint64) *Degrader {
	return &Degrader{c, seed, newWorkspace()}
}

// Change returns a recording as it is under the condition, with the samples that a file
// of the returned format holds. earlier is the number of conditions that its audio has
// gone through before. The result lasts as long as the recording, also where another rate
// ends it within a sample. Its samples are valid until the next call; those of the given
// recording are overwritten.
func (d *Degrader) Change(clip *audio.Clip, recording string, earlier int) (*audio.Clip, audio.Format, error) {
	x, rate := clip.Samples, clip.Rate
	before := map[string]int{} // of the condition, by kind
	for _, s := range d.condition.steps {
		var err error
		if x, rate, err = s.apply(d.workspace, x, rate, d.stream(recording, earlier, s.kind, before[s.kind])); err != nil {
			return nil, 0, fmt.Errorf("condition %s: %w", s, err)
		}
		before[s.kind]++
	}
	changed := *clip
	changed.Samples, changed.Frames, changed.Rate, changed.Length = x, len(x), rate, clip.Duration()
	return &changed, audio.Round(x, clip.BitsPerSample), nil
}

// stream returns the random numbers of one change of a recording.
func (d *Degrader) stream(recording string, earlier int, kind string, before int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%q %d %s %d", recording, earlier, kind, before)
	return rand.New(rand.NewPCG(d.seed, h.Sum64()))
}
