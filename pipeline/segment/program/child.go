package program

import (
	"errors"
	"fmt"
	"io/fs"
	"os/exec"
	"sync"
	"time"
)

// child is a process with all processes that it starts. When it ends, they are ended.
type child struct {
	cmd   *exec.Cmd
	ended chan struct{} // closed when all have ended

	mu   sync.Mutex
	gone bool // its id may be that of another process
}

// drainTime is how long messages are still read after the end of a process whose
// descendants hold its standard error open.
const drainTime = time.Second

// startChild starts a process in a group of its own.
func startChild(cmd *exec.Cmd) (*child, error) {
	cmd.WaitDelay = drainTime
	if err := start(cmd); err != nil {
		return nil, explainStart(cmd, err)
	}
	c := &child{cmd: cmd, ended: make(chan struct{})}
	go func() {
		defer close(c.ended)
		waitAndEnd(cmd, func() {
			c.mu.Lock()
			defer c.mu.Unlock()
			endAll(cmd)
			c.gone = true
		})
	}()
	return c, nil
}

// explainStart says why a command does not start.
func explainStart(cmd *exec.Cmd, err error) error {
	name := shown(cmd.Args[0], maxLine)
	switch {
	case errors.Is(err, exec.ErrNotFound):
		return fmt.Errorf("command %s is not found: install it, or write ./%s for a program in the folder of the method's file", name, name)
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("command %s is not found in the folder of the method's file, or what its first line names is not installed", name)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("command %s must not be run: make the file executable (chmod +x)", name)
	}
	if inner := errors.Unwrap(err); inner != nil {
		err = inner
	}
	return fmt.Errorf("command %s does not start: %w", name, err)
}

// kill ends the process and those that it has started, if it has not ended.
func (c *child) kill() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.gone {
		endAll(c.cmd)
	}
}

// killTime bounds the time in which a process that was killed must be gone. Only one
// that hangs within the system, as in a read from a lost disk, lasts longer.
const killTime = time.Second

// end waits for the end of the process and kills it after the grace. It reports
// whether the process is gone.
func (c *child) end(grace time.Duration) bool {
	if c.endsWithin(grace) {
		return true
	}
	c.kill()
	return c.endsWithin(killTime + drainTime)
}

func (c *child) endsWithin(d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-c.ended:
		return true
	case <-timer.C:
		return false
	}
}

// processTime returns the processor time, in user and in system mode, of a process
// that has ended and of those of its descendants that it waited for.
func (c *child) processTime() time.Duration {
	select {
	case <-c.ended:
		return c.cmd.ProcessState.UserTime() + c.cmd.ProcessState.SystemTime()
	default:
		return 0
	}
}
