package pipeline

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// mount mounts a small file system in memory, which is gone after the test.
func mount(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("cannot mount a small file system, which needs the rights of root: %v", err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// On a disk that becomes full, be it in the first or a later part of a table or in what
// is written at the end, the message names the file and the remedy, and with room the
// run continues to the same tables. That every byte can be the last is tested in
// package table.
func TestDiskFull(t *testing.T) {
	c := crowd(t, 8)
	c.PartSize = 4
	run(t, c)
	want := tablesOf(t, c.Out)
	disk := mount(t, "4k")
	c.Out, c.Resume = filepath.Join(disk, "out"), true
	written := 0
	for _, file := range []string{
		"states/part-000000.parquet", "cycles/part-000000.parquet", "recordings/part-000000.parquet",
		"states/part-000001.parquet", "cycles/part-000001.parquet", "recordings/part-000001.parquet",
		"people/part-000000.parquet", "summary.json",
	} {
		if want[file] == nil {
			t.Fatalf("the run has no %s", file)
		}
		room := (written + len(want[file])/2) &^ 4095 // whole pages
		written += len(want[file])
		if err := unix.Mount("", disk, "", unix.MS_REMOUNT, fmt.Sprintf("size=%d", max(room, 4096))); err != nil {
			t.Fatal(err)
		}
		_, err := Run(context.Background(), c, nil)
		if !errors.Is(err, unix.ENOSPC) || !strings.Contains(err.Error(), c.Out) || !strings.Contains(err.Error(), "is the disk full?") {
			t.Fatalf("room for %d bytes: %v", room, err)
		}
		for name := range tablesOf(t, c.Out) {
			if strings.HasSuffix(name, ".partial") {
				t.Errorf("room for %d bytes: left %s behind", room, name)
			}
		}
	}
	if err := unix.Mount("", disk, "", unix.MS_REMOUNT, "size=64m"); err != nil {
		t.Fatal(err)
	}
	run(t, c)
	sameTables(t, "after a full disk", want, tablesOf(t, c.Out))
}

func TestReadOnlyOutput(t *testing.T) {
	c := crowd(t, 4)
	disk := mount(t, "8m")
	c.Out = filepath.Join(disk, "out")
	run(t, c)
	if err := unix.Mount("", disk, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	for name, out := range map[string]string{"a run that was made": c.Out, "a folder to be made": filepath.Join(disk, "new")} {
		c := c
		c.Out, c.Resume = out, true
		_, err := Run(context.Background(), c, nil)
		if !errors.Is(err, unix.EROFS) || !strings.Contains(err.Error(), out) || !strings.Contains(err.Error(), "--out") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Where a process may write no large files, as under a quota, it is told as on
// a full disk. This needs no rights.
func TestFileSizeLimit(t *testing.T) {
	t.Parallel()
	c := crowd(t, 8)
	c.Resume = true
	limited, message := processOf(t, c)
	limited.Path, limited.Args = "/bin/sh", []string{"sh", "-c", `ulimit -f 16; exec "$0"`, limited.Path}
	if err := limited.Run(); err == nil || !strings.Contains(message.String(), "file too large") || !strings.Contains(message.String(), c.Out) {
		t.Errorf("%v: %s", err, message)
	}
	if command, output := processOf(t, c); command.Run() != nil {
		t.Errorf("without the limit: %s", output)
	}
}

// killsWanted is how often TestKill kills, unless PHONOCYCLE_KILLS says
// otherwise.
const killsWanted = 10

// A run that is killed at any moment continues, as often as need be, to the
// tables of an undisturbed run.
func TestKill(t *testing.T) {
	t.Parallel()
	wanted := killsWanted
	if s := os.Getenv("PHONOCYCLE_KILLS"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("PHONOCYCLE_KILLS: %v", err)
		}
		wanted = n
	}
	c := crowd(t, 8)
	c.PartSize, c.Resume = 2, true
	started := time.Now()
	if command, output := processOf(t, c); command.Run() != nil {
		t.Fatalf("undisturbed: %s", output)
	}
	whole := time.Since(started)
	want := tablesOf(t, c.Out)

	reach := int64(min(whole, time.Second)) // on a slow machine too, the kills take half a minute
	rng := rand.New(rand.NewPCG(9, 9))
	kills, finished, rounds := 0, 0, 0
	c = elsewhere(t, c)
	for kills < wanted || finished == 0 {
		command, output := processOf(t, c)
		if err := command.Start(); err != nil {
			t.Fatal(err)
		}
		if kills < wanted {
			timer := time.AfterFunc(time.Duration(rng.Int64N(reach)), func() { _ = command.Process.Kill() })
			defer timer.Stop()
		}
		err := command.Wait()
		rounds++
		switch state := command.ProcessState; {
		case err == nil:
			finished++
			sameTables(t, fmt.Sprintf("run %d, after %d kills", finished, kills), want, tablesOf(t, c.Out))
			c = elsewhere(t, c)
		case state.Sys().(interface{ Signaled() bool }).Signaled():
			kills++
		default:
			t.Fatalf("round %d, after %d kills: %v\n%s", rounds, kills, err, output)
		}
		if t.Failed() {
			return
		}
	}
	t.Logf("%d kills within %v of a run of %v; %d runs were completed after them", kills, time.Since(started), whole, finished)
}
