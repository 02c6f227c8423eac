package pipeline

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/gob"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/synth"
)

// sharedDir holds what is made once for all tests. No test changes it.
var sharedDir string

// runConfig is the environment variable that makes the test binary a process
// which does one run: it holds the configuration, as encoding/gob writes it.
const runConfig = "PHONOCYCLE_TEST_RUN"

func TestMain(m *testing.M) {
	debug.SetGCPercent(400) // many runs of a moment each: collecting garbage takes a quarter of them
	if encoded, ok := os.LookupEnv(runConfig); ok {
		os.Exit(runAlone(encoded))
	}
	dir, err := os.MkdirTemp("", "pipeline-test")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	sharedDir = dir
	status := m.Run()
	_ = os.RemoveAll(dir)
	os.Exit(status)
}

// runAlone does the run of an encoded configuration and returns the exit status.
func runAlone(encoded string) int {
	var c config.Config
	err := gob.NewDecoder(base64.NewDecoder(base64.StdEncoding, strings.NewReader(encoded))).Decode(&c)
	if err == nil {
		_, err = Run(context.Background(), c, nil)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// processOf returns a command that does the run of c in a process of its own,
// which may be killed or limited. What it prints goes to the buffer.
func processOf(t *testing.T, c config.Config) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	var encoded bytes.Buffer
	if err := gob.NewEncoder(&encoded).Encode(c); err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	command, output := exec.Command(program), &bytes.Buffer{}
	command.Env = append(os.Environ(), runConfig+"="+base64.StdEncoding.EncodeToString(encoded.Bytes()))
	command.Stdout, command.Stderr = output, output
	return command, output
}

var makeVillage = sync.OnceValue(func() error {
	return synth.WriteDemo(context.Background(), filepath.Join(sharedDir, "village"), 1)
})

// village returns the data set of the demo's scenario, which no test changes.
func village(t *testing.T) config.Input {
	t.Helper()
	if err := makeVillage(); err != nil {
		t.Fatal(err)
	}
	return villageIn(filepath.Join(sharedDir, "village"))
}

// villageCopy returns a copy of the data set of the demo's scenario for a test
// that changes it.
func villageCopy(t *testing.T) config.Input {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "village")
	if err := os.CopyFS(dir, os.DirFS(village(t).Data)); err != nil {
		t.Fatal(err)
	}
	return villageIn(dir)
}

func villageIn(dir string) config.Input {
	return config.Input{Data: dir, Layout: filepath.Join(dir, synth.Demo().Name+".yaml")}
}

var runVillage = sync.OnceValue(func() error {
	c := defaultConfig(villageIn(filepath.Join(sharedDir, "village")))
	c.Out = filepath.Join(sharedDir, "run")
	_, err := Run(context.Background(), c, nil)
	return err
})

// villageRun returns the output folder of a run with the configuration of
// configFor over the village. No test changes it.
func villageRun(t *testing.T) string {
	t.Helper()
	village(t)
	if err := runVillage(); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(sharedDir, "run")
}
