package rundir

import (
	"encoding/json"
	"os"
	"path/filepath"
	"phonocycle/pipeline/config"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

func locked(t *testing.T, dir string, shard config.Shard) *Lock {
	t.Helper()
	l, _, err := LockFolder(dir, shard)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func released(t *testing.T, locks ...*Lock) {
	t.Helper()
	for _, l := range locks {
		if err := l.Release(); err != nil {
			t.Error(err)
		}
	}
}

// A run alone and a shard keep each other out; shards of different numbers do
// not.
func TestLocksOfRunsAndShards(t *testing.T) {
	alone, one, two := config.Shard{}, config.Shard{Index: 1, Of: 2}, config.Shard{Index: 2, Of: 2}
	tests := []struct {
		name     string
		held     []config.Shard
		wanted   config.Shard
		refusals []string // what the refusal says; none if there is room
	}{
		{"run, run", []config.Shard{alone}, alone, []string{"in use by process", "(run.lock)", "--out"}},
		{"run, shard", []config.Shard{alone}, one, []string{"in use by process", "(run.lock)", "--out"}},
		{"shard, run", []config.Shard{one}, alone, []string{"in use by process", "(run-1-of-2.lock)", "--out"}},
		{"two shards, run", []config.Shard{one, two}, alone, []string{"(run-1-of-2.lock)", "(run-2-of-2.lock)"}},
		{"shard, same shard", []config.Shard{one}, one, []string{"in use by process", "(run-1-of-2.lock)", "--out"}},
		{"shard, other shard", []config.Shard{one}, two, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "out[1]*")
			if err := os.Mkdir(dir, 0o755); err != nil {
				t.Fatal(err)
			}
			var held []*Lock
			for _, s := range tt.held {
				held = append(held, locked(t, dir, s))
			}
			l, _, err := LockFolder(dir, tt.wanted)
			if (err == nil) != (len(tt.refusals) == 0) {
				t.Fatalf("error %v", err)
			}
			for _, want := range tt.refusals {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("the message lacks %q: %v", want, err)
				}
			}
			if err == nil {
				released(t, l)
			}
			released(t, held...)
			released(t, locked(t, dir, tt.wanted)) // there is room again
			if left, _ := os.ReadDir(dir); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		})
	}
}

// A run that was killed leaves its lock file, but the system frees the lock.
func TestStaleLock(t *testing.T) {
	host, err := os.Hostname()
	if err != nil {
		t.Fatal(err)
	}
	// The time says nothing about whether the run lives: its clock may be wrong.
	future := time.Date(2199, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name string
		left any
		want []string
	}{
		{"this host", holder{4242, host, future}, []string{"process 4242 on " + host, "2199", "ended without finishing"}},
		{"another host", holder{4242, "elsewhere", future}, []string{"process 4242 on elsewhere", "stop one of the two"}},
		{"nonsense", "nonsense", nil},
	} {
		for _, shard := range []config.Shard{{}, {Index: 2, Of: 3}} {
			dir := t.TempDir()
			name := runLock
			if shard.Of > 0 {
				name = shardLock(shard)
			}
			content, err := json.Marshal(tt.left)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
				t.Fatal(err)
			}
			l, stale, err := LockFolder(dir, shard)
			if err != nil {
				t.Fatalf("%s: %v", tt.name, err)
			}
			if (stale == "") != (tt.want == nil) {
				t.Errorf("%s: stale %q", tt.name, stale)
			}
			for _, want := range tt.want {
				if !strings.Contains(stale, want) {
					t.Errorf("%s: the message lacks %q: %s", tt.name, want, stale)
				}
			}
			released(t, l)
			if left, _ := os.ReadDir(dir); len(left) > 0 {
				t.Errorf("%s: left behind: %v", tt.name, left)
			}
		}
	}
}

// A shard sweeps away what a killed run said in the file that shards share, so
// that nobody is told that the dead run is in the way.
func TestShardForgetsADeadRun(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, runLock), []byte(`{"pid":4242}`), 0o644); err != nil {
		t.Fatal(err)
	}
	l := locked(t, dir, config.Shard{Index: 1, Of: 2})
	if _, _, err := LockFolder(dir, config.Shard{}); err == nil || strings.Contains(err.Error(), "4242") {
		t.Errorf("error %v", err)
	}
	released(t, l)
}

// However many take the lock and remove its file in turn, no two have it at
// once.
func TestLockIsExclusiveWhileFilesAreRemoved(t *testing.T) {
	dir := t.TempDir()
	var inside, taken atomic.Int32
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for range 200 {
				l, _, err := LockFolder(dir, config.Shard{})
				if err != nil {
					if !strings.Contains(err.Error(), "in use") {
						t.Error(err)
					}
					continue
				}
				if inside.Add(1) != 1 {
					t.Error("two hold the lock at once")
				}
				taken.Add(1)
				inside.Add(-1)
				if err := l.Release(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	group.Wait()
	if taken.Load() < 8 {
		t.Errorf("the lock was taken %d times", taken.Load())
	}
}

// Of two plans that reach an empty folder at once, one is written and the other
// refused.
func TestOnePlanIsWritten(t *testing.T) {
	for range 20 {
		dir := t.TempDir()
		errs := make([]error, 4)
		var group sync.WaitGroup
		for i := range errs {
			group.Go(func() {
				p := samplePlan(t)
				p.Config.PartSize = 100 + i
				if errs[i] = p.Seal(); errs[i] == nil {
					errs[i] = p.WriteOrVerify(dir, true)
				}
			})
		}
		group.Wait()
		written := 0
		for _, err := range errs {
			if err == nil {
				written++
			} else if !strings.Contains(err.Error(), "holds a run that differs") {
				t.Fatal(err)
			}
		}
		if written != 1 {
			t.Fatalf("%d of %d plans were written", written, len(errs))
		}
	}
}
