//go:build unix

package program

import (
	"os/exec"

	"golang.org/x/sys/unix"
)

// endGroup kills a process and all others of its group. A process that has made a
// group or session of its own is not reached.
func endGroup(cmd *exec.Cmd) { unix.Kill(-cmd.Process.Pid, unix.SIGKILL) }
