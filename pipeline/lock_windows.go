package pipeline

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockedByte lies far behind what a lock file says, since on Windows a locked
// byte cannot be read by others.
const lockedByte = 1 << 20

// lockFile locks f for this process alone, or returns errLocked.
func lockFile(f *os.File) error {
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY,
		0, 1, 0, &windows.Overlapped{Offset: lockedByte})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errLocked
	}
	return err
}
