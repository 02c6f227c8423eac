package config

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestLargestValues(t *testing.T) {
	hour := Duration(time.Hour)
	for _, c := range []struct {
		set  func(*Config)
		want string // part of the error; empty for none
	}{
		{func(c *Config) {}, ""},
		{func(c *Config) { c.Workers = 1 << 31 }, "workers is 2147483648: at most 1024"},
		{func(c *Config) { c.Workers = -1 << 31 }, "workers is -2147483648: at least 1"},
		{func(c *Config) { c.PartSize = math.MaxInt64 }, "part-size is 9223372036854775807: at most 1000000"},
		{func(c *Config) { c.Channel = 1 << 31 }, "at most 65535"},
		{func(c *Config) { c.Folds = 1 << 31 }, "folds is 2147483648: at most 10000000"},
		{func(c *Config) { c.MostPeople = 1 << 40 }, "most-people"},
		{func(c *Config) { c.Shard = Shard{1, 1 << 31} }, "shard is 2147483648: at most"},
		{func(c *Config) { c.MaxDuration = 25 * hour }, "max-duration is 25h0m0s: at most 24h0m0s"},
		{func(c *Config) { c.MaxDuration = -hour }, "max-duration is -1h0m0s: give a time above zero"},
		{func(c *Config) { c.MinDuration = 3 * hour }, "min-duration is 3h0m0s: at most 2h0m0s"},
		{func(c *Config) { c.TimeLimit = math.MaxInt64 }, "time-limit is 2562047h47m16.854775807s: at most 1000h0m0s"},
		{func(c *Config) { c.Scoring.Tolerance = hour }, "tolerance is 1h0m0s: at most 2s"},
		{func(c *Config) { c.Scoring.Resamples = 1e9 }, "resamples is 1000000000: want 0 to 100000"},
		{func(c *Config) { c.Scoring.Resamples = -1 }, "resamples is -1: want 0 to 100000"},
	} {
		config := Default()
		c.set(&config)
		err := config.Check()
		if c.want == "" {
			if err != nil {
				t.Error(err)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
}
