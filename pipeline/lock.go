package pipeline

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// lock keeps two runs out of one output folder. It is held by the operating
// system for as long as the process lives, so a killed run leaves none behind;
// the file says who holds it, for the one who is kept out.
type lock struct{ file *os.File }

// errLocked says that another process holds the lock.
var errLocked = errors.New("locked by another process")

// holder is what a lock file says of the run that holds it.
type holder struct {
	PID     int       `json:"pid"`
	Host    string    `json:"host"`
	Started time.Time `json:"started"`
}

// acquireLock locks the named file in dir. stale describes the run that left
// the file behind without ending properly, or is empty.
func acquireLock(dir, name string) (l *lock, stale string, err error) {
	path := filepath.Join(dir, name)
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, "", fmt.Errorf("output folder %s is not writable: %w; choose another with --out", dir, err)
	}
	var was holder
	content, readErr := io.ReadAll(io.LimitReader(f, 4096))
	known := readErr == nil && json.Unmarshal(content, &was) == nil
	if err := lockFile(f); err != nil {
		f.Close()
		if !errors.Is(err, errLocked) {
			return nil, "", fmt.Errorf("lock %s: %w; the file system must support locks", path, err)
		}
		if known {
			return nil, "", fmt.Errorf("output folder %s is in use by process %d on %s since %s; wait for it or choose another folder with --out",
				dir, was.PID, was.Host, was.Started.Format(time.RFC3339))
		}
		return nil, "", fmt.Errorf("output folder %s is in use by another run; wait for it or choose another folder with --out", dir)
	}
	if known {
		stale = fmt.Sprintf("process %d on %s, started %s, ended without finishing its run", was.PID, was.Host, was.Started.Format(time.RFC3339))
	}
	host, _ := os.Hostname()
	mine, err := json.Marshal(holder{os.Getpid(), host, time.Now().UTC()})
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = f.WriteAt(append(mine, '\n'), 0)
	}
	if err != nil {
		f.Close()
		return nil, "", fmt.Errorf("lock %s: %w", path, err)
	}
	return &lock{f}, stale, nil
}

// release gives the folder free and removes the lock file.
func (l *lock) release() error {
	return errors.Join(os.Remove(l.file.Name()), l.file.Close())
}
