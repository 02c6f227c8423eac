package rundir

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockedByte lies far behind what a lock file says, since on Windows a locked
// byte cannot be read by others.
const lockedByte = 1 << 20

// lockFile locks f for this process alone, or together with others who share
// it, or returns errLocked.
func lockFile(f *os.File, shared bool) error {
	flags := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if !shared {
		flags |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &windows.Overlapped{Offset: lockedByte})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errLocked
	}
	return err
}

// removeLocked closes a locked file and removes it. Windows refuses to remove
// a file that others have open, who will then remove it themselves.
func removeLocked(f *os.File, _ bool) error {
	err := f.Close()
	if removal := os.Remove(f.Name()); removal != nil && !errors.Is(removal, windows.ERROR_SHARING_VIOLATION) && !errors.Is(removal, os.ErrNotExist) {
		err = errors.Join(err, removal)
	}
	return err
}

// isReadOnly reports whether err says that the file system takes no changes.
func isReadOnly(err error) bool { return errors.Is(err, windows.ERROR_WRITE_PROTECT) }
