package corpus

import (
	"context"
	"fmt"
	"math"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/segment"
)

// What a scan listens to, so that its time does not grow with the data set: this
// many recordings with a reference, spread evenly over the set, of at most this
// length.
const (
	mostHeard   = 64
	longestHear = 5 * time.Minute
)

// checkUnits compares references of a data set with the length and the rhythm of
// the recordings, and returns warnings.
func (c *Corpus) checkUnits(ctx context.Context, s *dataset.Set, channel int) ([]string, error) {
	var with []*Entry
	for i := range c.Entries {
		if e := &c.Entries[i]; e.Set == s && e.Recording.Reference != "" && e.Unusable() == nil {
			with = append(with, e)
		}
	}
	loader := NewLoader(&config.Config{Channel: channel, MaxDuration: config.Duration(longestHear)})
	sound := segment.NewSoundRate()
	var units eval.UnitCheck
	n := min(len(with), mostHeard)
	for k := range n {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("scan of %s: %w", s.Layout.Name, err)
		}
		e := with[k*len(with)/n]
		row := e.Row()
		loaded, err := loader.Load(e, &row)
		if err != nil || loaded.Reference.Empty() {
			continue // told among the defects, or too long
		}
		rate := math.NaN()
		if bpm, ok := dataset.HeartRate(&loaded.Reference); ok {
			rate = bpm
		}
		units.Add(loaded.Reference.End(), *row.Duration, eval.Ratio(rate), eval.Ratio(sound.Estimate(loaded.Waveform)))
	}
	return units.Warnings(s.Layout.Name, "that of the sound"), nil
}
