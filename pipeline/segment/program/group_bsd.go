//go:build unix && !linux

package program

import (
	"os/exec"
	"syscall"
)

// start starts a command in a process group of its own. When this program is killed,
// the command is not; it finds the end of its standard input.
func start(cmd *exec.Cmd) error {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	return cmd.Start()
}

// waitAndEnd waits until a process has ended, reads its status and calls endGroup.
func waitAndEnd(cmd *exec.Cmd, endGroup func()) {
	cmd.Wait()
	endGroup()
}
