package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table/atomicfile"
)

// asCommand is the environment variable that makes the test binary the program.
const asCommand = "PHONOCYCLE_TEST_COMMAND"

func TestMain(m *testing.M) {
	if os.Getenv(asCommand) != "" {
		main()
	}
	status := m.Run()
	_ = os.RemoveAll(tinyFolder.dir)
	os.Exit(status)
}

// process returns the command line as a process of its own.
func process(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(program, args...)
	c.Env = append(os.Environ(), asCommand+"=1")
	return c
}

// TestKillCommands kills commands that write at random moments: some of them once
// or, where PHONOCYCLE_KILLS says how often in all, every one. Repeated with the
// remedy that its messages name, the command then writes the bytes of an
// undisturbed call and leaves nothing unfinished, in its output or beside it.
func TestKillCommands(t *testing.T) {
	t.Chdir(t.TempDir())
	source := []string{"--data", "many", "--layout", "many/many.yaml"}
	for _, args := range [][]string{
		{"synth", "--many", "24", "--length", "3s", "--out", "many"},
		append([]string{"run", "--out", "whole", "--method", "shannon-peaks", "--part-size", "8"}, source...),
	} {
		if status, _, stderr := call(t, args...); status != 0 {
			t.Fatal(args, stderr)
		}
	}
	stage := func(name string, more ...string) []string {
		return slices.Concat([]string{name, "--out", "out", "--part-size", "4"}, source, more)
	}
	tests := []struct{ args, remedy []string }{
		{stage("run", "--method", "shannon-peaks"), []string{"--resume"}},
		{stage("run", "--method", "shannon-peaks"), []string{"--overwrite"}},
		{stage("segment", "--method", "shannon-peaks"), []string{"--resume"}},
		{stage("extract", "--states", "whole"), []string{"--resume"}},
		{stage("windows", "--states", "whole"), []string{"--resume"}},
		{stage("crossval", "--method", "duration-hmm", "--folds", "2"), []string{"--resume"}},
		{append([]string{"fit", "--method", "duration-hmm", "--model-out", "out", "--date", "2026-01-01"}, source...), nil},
		{[]string{"score", "--states", "whole", "--out", "out"}, []string{"--overwrite"}},
		{[]string{"partition", "--table", "whole/cycles", "--out", "out"}, []string{"--overwrite"}},
		{[]string{"report", "--results", "whole", "--out", "out/report.html", "--tables", "out", "--figures", "out"}, []string{"--overwrite"}},
		{append([]string{"explain", "--recording", "p000001_aortic", "--out", "out/page.html"}, source...), nil},
		{[]string{"synth", "--many", "12", "--length", "3s", "--out", "out"}, []string{"--overwrite"}},
		{[]string{"demo", "--out", "out"}, []string{"--overwrite"}},
		{append([]string{"degrade", "--condition", "noise=pink,snr=5", "--out", "out"}, source...), []string{"--overwrite"}},
		{[]string{"merge", "--out", "out"}, nil},
	}
	quick := []string{"fit", "partition", "synth", "degrade"}
	wanted := len(quick)
	if s := os.Getenv("PHONOCYCLE_KILLS"); s != "" {
		var err error
		if wanted, err = strconv.Atoi(s); err != nil {
			t.Fatalf("PHONOCYCLE_KILLS: %v", err)
		}
	} else {
		tests = slices.DeleteFunc(tests, func(tt struct{ args, remedy []string }) bool { return !slices.Contains(quick, tt.args[0]) })
	}
	rng := rand.New(rand.NewPCG(13, 11))
	killed := 0
	for i, tt := range tests {
		prepare := func() {
			err := os.RemoveAll("out")
			if tt.args[0] == "merge" { // completes a run
				err = errors.Join(err, os.CopyFS("out", os.DirFS("whole")), os.Remove("out/summary.json"), os.RemoveAll("out/scores"), os.RemoveAll("out/matches"))
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		prepare()
		started := time.Now()
		if output, err := process(t, tt.args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v: %s", tt.args, err, output)
		}
		whole := time.Since(started)
		want := written(t, "out")
		for n := wanted*(i+1)/len(tests) - wanted*i/len(tests); n > 0; n-- {
			prepare()
			ctx, cancel := context.WithTimeout(context.Background(), time.Duration(rng.Int64N(int64(whole))))
			c := process(t, tt.args...)
			if err := c.Start(); err != nil {
				t.Fatal(err)
			}
			stop := context.AfterFunc(ctx, func() { _ = c.Process.Kill() })
			if err := c.Wait(); err != nil {
				killed++
			}
			stop()
			cancel()
			if output, err := process(t, append(tt.args, tt.remedy...)...).CombinedOutput(); err != nil {
				t.Fatalf("%v after a kill: %v: %s", tt.args, err, output)
			}
			if got := written(t, "out"); !equalFiles(want, got) {
				t.Errorf("%v after a kill: files differ: %s", tt.args, difference(want, got))
			}
			for name := range written(t, ".") {
				if strings.HasSuffix(name, atomicfile.Suffix) {
					t.Errorf("%v after a kill: %s is left", tt.args, name)
				}
			}
		}
	}
	t.Logf("%d kills, of which %d came before the end of the command", wanted, killed)
}

// written returns the content of all files at or below a path that do not depend
// on the time.
func written(t *testing.T, path string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(path, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == rundir.ManifestFile {
			return err
		}
		files[path], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func equalFiles(a, b map[string][]byte) bool { return difference(a, b) == "" }

// difference names the first files that differ.
func difference(a, b map[string][]byte) string {
	var names []string
	for name, content := range a {
		if other, ok := b[name]; !ok || !bytes.Equal(content, other) {
			names = append(names, name)
		}
	}
	for name := range b {
		if _, ok := a[name]; !ok {
			names = append(names, fmt.Sprintf("%s is left over", name))
		}
	}
	slices.Sort(names)
	return strings.Join(names[:min(3, len(names))], ", ")
}
