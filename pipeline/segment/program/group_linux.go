package program

import (
	"os/exec"
	"runtime"
	"sync"
	"syscall"

	"golang.org/x/sys/unix"
)

// starts takes work to a goroutine with a thread of its own that never ends. Linux
// sends the signal of Pdeathsig when the thread ends that started the process, and
// threads of other goroutines may end before the program does.
var starts = sync.OnceValue(func() chan<- func() {
	work := make(chan func())
	go func() {
		runtime.LockOSThread()
		for f := range work {
			f()
		}
	}()
	return work
})

// start starts a command in a process group of its own. The command is killed when
// this program ends in any way.
func start(cmd *exec.Cmd) error {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: unix.SIGKILL}
	result := make(chan error)
	starts() <- func() { result <- cmd.Start() }
	return <-result
}

// waitAndEnd waits until a process has ended, calls endGroup and reads its status.
// Until the status is read, no other process or group can get its id.
func waitAndEnd(cmd *exec.Cmd, endGroup func()) {
	for unix.Waitid(unix.P_PID, cmd.Process.Pid, nil, unix.WEXITED|unix.WNOWAIT, nil) == unix.EINTR {
	}
	endGroup()
	cmd.Wait()
}
