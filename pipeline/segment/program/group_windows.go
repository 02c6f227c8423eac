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

// endAll kills the process. Processes that it has started are not reached: Windows
// has no groups of processes that can be killed.
func endAll(cmd *exec.Cmd) { cmd.Process.Kill() }

// waitAndEnd waits until a process has ended, reads its status and calls end.
func waitAndEnd(cmd *exec.Cmd, end func()) {
	cmd.Wait()
	end()
}
