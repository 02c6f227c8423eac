package cputime

import (
	"os"
	"os/exec"
	"runtime"
	"testing"
	"time"
)

// spend keeps a processor busy until a clock has advanced by d.
func spend(clock func() time.Duration, d time.Duration) {
	for start, x := clock(), 1.0; clock()-start < d; {
		for range 10_000 {
			x *= 1.0000001
		}
	}
}

// The time of a thread is its own: what others spend, and sleep, does not count.
func TestThread(t *testing.T) {
	if ThreadClock != Processor {
		t.Skip("this platform has no clock of a thread")
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	start := Thread()
	done := make(chan struct{})
	go func() {
		runtime.LockOSThread()
		spend(Thread, 30*time.Millisecond)
		close(done)
	}()
	<-done
	time.Sleep(20 * time.Millisecond)
	if got := Thread() - start; got > 20*time.Millisecond {
		t.Errorf("a thread that waited has spent %v", got)
	}
	start = Thread()
	spend(Thread, 20*time.Millisecond)
	if got := Thread() - start; got < 20*time.Millisecond {
		t.Errorf("a busy thread has spent %v", got)
	}
}

// The time of the process has that of all threads and of children that have ended.
func TestProcess(t *testing.T) {
	if os.Getenv("CPUTIME_CHILD") != "" {
		spend(Process, 60*time.Millisecond)
		return
	}
	start := Process()
	spend(Process, 40*time.Millisecond)
	if got := Process() - start; got < 40*time.Millisecond {
		t.Errorf("a busy process has spent %v", got)
	}
	if runtime.GOOS == "windows" {
		return
	}
	child := exec.Command(os.Args[0], "-test.run=^TestProcess$")
	child.Env = append(os.Environ(), "CPUTIME_CHILD=1")
	start = Process()
	if err := child.Run(); err != nil {
		t.Fatal(err)
	}
	if got := Process() - start; got < 60*time.Millisecond {
		t.Errorf("a process whose child has spent 60 ms has spent %v", got)
	}
}
