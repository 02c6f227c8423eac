package program

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

func init() {
	detach = func(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setsid: true} }
}

// A program ends when the one that started it is killed.
func TestProgramEndsWhenItsParentIsKilled(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir()) // not that of the parent, whose folder stays
	file := methodFile(t, []string{"silence"})
	dir := filepath.Dir(file)
	parent := exec.Command(os.Args[0], "segmenter", file)
	parent.Dir, parent.Env = dir, append(os.Environ(), "TMPDIR="+t.TempDir())
	if err := parent.Start(); err != nil {
		t.Fatal(err)
	}
	for begun := time.Now(); ; time.Sleep(10 * time.Millisecond) { // until both are there
		if pids, _ := os.ReadFile(filepath.Join(dir, pidsFile)); len(strings.Fields(string(pids))) == 2 {
			break
		}
		if time.Since(begun) > 20*time.Second {
			t.Fatal("the program does not start")
		}
	}
	if err := parent.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	parent.Wait()
	checkNothingLeft(t, file)
}
