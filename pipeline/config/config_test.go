package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/goccy/go-yaml"
)

func TestLoadConfigOverDefaults(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.yaml")
	text := "method: shannon-peaks\ntime-limit: 5s\nscoring:\n  tolerance: 100ms\noptions:\n  max-rate: 180\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	c, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	if c.Method != "shannon-peaks" || c.TimeLimit != Duration(5*time.Second) || c.Scoring.Tolerance != Duration(100*time.Millisecond) {
		t.Errorf("read as %+v", c)
	}
	if d := Default(); c.PartSize != d.PartSize || c.Scoring.Anchor != d.Scoring.Anchor {
		t.Error("what the file does not say must keep its default")
	}
}

func TestLoadConfigNamesTheMisspeltKey(t *testing.T) {
	path := filepath.Join(t.TempDir(), "run.yaml")
	if err := os.WriteFile(path, []byte("method: duration-hmm\nwokers: 3\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err := Load(path)
	if err == nil {
		t.Fatal("a misspelt key was accepted")
	}
	for _, want := range []string{path, ":2:1: ", "wokers"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the message does not name %q:\n%v", want, err)
		}
	}
}

func TestLoadConfigWithoutFile(t *testing.T) {
	if _, err := Load("no-such-baseline"); err == nil || !strings.Contains(err.Error(), "no-such-baseline") {
		t.Errorf("unknown name: %v", err)
	}
	if _, err := Load("./missing.yaml"); err == nil || !strings.Contains(err.Error(), "missing.yaml") {
		t.Errorf("missing file: %v", err)
	}
}

func TestSetOptions(t *testing.T) {
	c := Default()
	if err := yaml.Unmarshal([]byte("options:\n  max-rate: 180\n  smooth: true\n"), &c); err != nil {
		t.Fatal(err)
	}
	if err := c.SetOptions([]string{"max-rate=200", "min-rate=30"}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		MaxRate float64 `yaml:"max-rate"`
		MinRate float64 `yaml:"min-rate"`
		Smooth  bool    `yaml:"smooth"`
	}
	if err := yaml.NodeToValue(c.Options, &got, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	if got.MaxRate != 200 || got.MinRate != 30 || !got.Smooth {
		t.Errorf("options read as %+v", got)
	}
	if err := c.SetOptions([]string{"max-rate"}); err == nil {
		t.Error("an option without a value was accepted")
	}
}

func TestConfigCheck(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(*Config)
		want  string
	}{
		{"default", func(*Config) {}, ""},
		{"no worker", func(c *Config) { c.Workers = 0 }, "workers"},
		{"empty parts", func(c *Config) { c.PartSize = 0 }, "part-size"},
		{"channel", func(c *Config) { c.Channel = -1 }, "channel"},
		{"tolerance", func(c *Config) { c.Scoring.Tolerance = -1 }, "tolerance"},
		{"shard", func(c *Config) { c.Shard = Shard{3, 2} }, "shard"},
		{"time limit", func(c *Config) { c.TimeLimit = -1 }, "time-limit"},
	}
	for _, tt := range tests {
		c := Default()
		tt.spoil(&c)
		err := c.Check()
		if (err == nil) != (tt.want == "") || (err != nil && !strings.Contains(err.Error(), tt.want)) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

func TestShard(t *testing.T) {
	var s Shard
	for _, bad := range []string{"", "3", "0/2", "3/2", "1/2/3", "a/b", "-1/2"} {
		if err := s.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("shard %q was accepted as %v", bad, s)
		}
	}
	owner := make([]int, 10)
	for i := 1; i <= 3; i++ {
		if err := s.UnmarshalText([]byte{byte('0' + i), '/', '3'}); err != nil {
			t.Fatal(err)
		}
		for part := range owner {
			if s.Has(part) {
				owner[part]++
			}
		}
	}
	for part, n := range owner {
		if n != 1 {
			t.Errorf("part %d belongs to %d of 3 shards", part, n)
		}
	}
}
