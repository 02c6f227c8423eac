package config

import (
	"cmp"
	"fmt"
	"time"

	"phonocycle/eval"
)

// The largest values of what takes memory or time. Each is far beyond what a run
// can use.
const (
	maxWorkers  = 1024 // each has plans and buffers of 20 MB or more
	maxPartSize = 1_000_000
	maxChannel  = 65_535 // WAV counts them in 16 bits
	maxPeople   = 10_000_000

	maxLength    = 24 * time.Hour
	maxTimeLimit = 1000 * time.Hour
	maxTolerance = 2 * time.Second // a cycle at 30 beats per minute
)

// checkBounds returns an error for the first value beyond its largest.
func (c *Config) checkBounds() error {
	if c.MaxDuration <= 0 {
		return fmt.Errorf("max-duration is %v: give a time above zero, such as 2h", c.MaxDuration)
	}
	return cmp.Or(
		atMost("workers", c.Workers, maxWorkers),
		atMost("part-size", c.PartSize, maxPartSize),
		atMost("channel", c.Channel, maxChannel),
		atMost("folds", c.Folds, maxPeople),
		atMost("most-people", c.MostPeople, maxPeople),
		atMost("shard", c.Shard.Of, maxPeople),
		atMost("max-duration", c.MaxDuration, Duration(maxLength)),
		atMost("min-duration", c.MinDuration, c.MaxDuration),
		atMost("time-limit", c.TimeLimit, Duration(maxTimeLimit)),
		atMost("tolerance", c.Scoring.Tolerance, Duration(maxTolerance)),
		eval.CheckResamples(c.Scoring.Resamples),
	)
}

func atMost[T cmp.Ordered](name string, value, most T) error {
	if value > most {
		return fmt.Errorf("%s is %v: at most %v", name, value, most)
	}
	return nil
}
