package program

import (
	"os/exec"
	"syscall"
)

// start starts a command so that an interrupt of the console does not reach it. When
// this program is killed, the command is not; it finds the end of its standard input.
func start(cmd *exec.Cmd) error {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
	return cmd.Start()
}

// endGroup kills the process. Processes that it has started are not reached: Windows
// has no groups of processes that can be killed.
func endGroup(cmd *exec.Cmd) { cmd.Process.Kill() }

// waitAndEnd waits until a process has ended and reads its status.
func waitAndEnd(cmd *exec.Cmd, endGroup func()) {
	cmd.Wait()
	endGroup()
}
