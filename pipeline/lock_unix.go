//go:build unix

package pipeline

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile locks f for this process alone, or returns errLocked.
func lockFile(f *os.File) error {
	err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return errLocked
	}
	return err
}
