//go:build unix && !linux

package program

import (
	"os/exec"
	"syscall"

	"golang.org/x/sys/unix"
)

// start starts a command in a process group of its own. When this program is killed,
// the command is not; it finds the end of its standard input.
func start(cmd *exec.Cmd) error {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	return cmd.Start()
}

// waitAndEnd waits until a process has ended, reads its status and calls end.
func waitAndEnd(cmd *exec.Cmd, end func()) {
	cmd.Wait()
	end()
}

// endAll kills a process and all others of its group. A process that has made a group or
// session of its own is not reached.
func endAll(cmd *exec.Cmd) { unix.Kill(-cmd.Process.Pid, unix.SIGKILL) }
