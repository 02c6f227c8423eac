//go:build unix

package rundir

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile locks f for this process alone, or together with others who share
// it, or returns errLocked.
func lockFile(f *os.File, shared bool) error {
	how := unix.LOCK_EX
	if shared {
		how = unix.LOCK_SH
	}
	err := unix.Flock(int(f.Fd()), how|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return errLocked
	}
	return err
}

// removeLocked removes a locked file, while the lock still keeps others from
// taking it, and closes it. A shared one is left to the last who shares it.
func removeLocked(f *os.File, shared bool) error {
	if shared && lockFile(f, false) != nil {
		return f.Close()
	}
	return errors.Join(os.Remove(f.Name()), f.Close())
}

// isReadOnly reports whether err says that the file system takes no changes.
func isReadOnly(err error) bool { return errors.Is(err, unix.EROFS) }
