package pipeline

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
)

func TestRunRefusesAFolderInUse(t *testing.T) {
	c := configFor(t, village(t))
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		t.Fatal(err)
	}
	locked := func(s config.Shard) *rundir.Lock {
		l, _, err := rundir.LockFolder(c.Out, s)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	released := func(l *rundir.Lock) {
		if err := l.Release(); err != nil {
			t.Error(err)
		}
	}
	l := locked(config.Shard{Index: 1, Of: 2})
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "run-1-of-2.lock") {
		t.Errorf("a run beside a shard: %v", err)
	}
	if _, err := os.Stat(filepath.Join(c.Out, rundir.PlanFile)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the run that was kept out wrote its plan: %v", err)
	}
	released(l)
	l = locked(config.Shard{})
	c.Shard, c.Resume = config.Shard{Index: 2, Of: 2}, true
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "(run.lock)") {
		t.Errorf("a shard beside a run: %v", err)
	}
	if _, err := Merge(context.Background(), c.Out, config.Config{Workers: 1}, nil); err == nil {
		t.Error("merge of a folder in use")
	}
	released(l)
}
