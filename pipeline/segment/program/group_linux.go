package program

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"syscall"
	"time"

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

// waitAndEnd waits until a process has ended, calls end and reads its status.
// Until the status is read, no other process or group can get its id.
func waitAndEnd(cmd *exec.Cmd, end func()) {
	for unix.Waitid(unix.P_PID, cmd.Process.Pid, nil, unix.WEXITED|unix.WNOWAIT, nil) == unix.EINTR {
	}
	end()
	cmd.Wait()
}

// endRounds bounds how often endAll looks for processes that are left.
const endRounds = 50

// endAll kills a process, its group, and those that have left the group, as a daemon
// does: they are known by the private folder in their environment.
func endAll(cmd *exec.Cmd) {
	unix.Kill(-cmd.Process.Pid, unix.SIGKILL)
	mark := []byte("\x00" + cmd.Env[len(cmd.Env)-1] + "\x00") // see command
	for range endRounds {                                     // what is killed may just have started another
		found := false
		environments, _ := filepath.Glob("/proc/[0-9]*/environ")
		for _, path := range environments {
			content, _ := os.ReadFile(path) // of another user, or ended: none
			pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(path)))
			if pid != cmd.Process.Pid && bytes.Contains(append([]byte{0}, content...), mark) {
				found = unix.Kill(pid, unix.SIGKILL) == nil || found
			}
		}
		if !found {
			return
		}
		time.Sleep(2 * time.Millisecond)
	}
}
