package rundir

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table/atomicfile"
)

// Lock keeps runs that would disturb each other out of one output folder.
//
// A run that works alone holds the file run.lock for itself. Shards share it,
// so that they keep such a run out and it them, and each holds a file of its
// own, so that no shard runs twice. The locks are those of the operating system
// and last as long as the process: a killed run leaves the files behind and
// locks nothing. The files say who holds them, for the one who is kept out.
//
// On a network file system the locks reach other machines where it passes them
// on (NFS with its lock service, Lustre mounted with flock). Where it keeps
// them to the machine, two runs from two machines are not kept apart; they
// still lose nothing, since only runs of the same plan enter a folder and a
// part is renamed into place whole.
type Lock struct{ held []heldLock }

// heldLock is a locked file.
type heldLock struct {
	file   *os.File
	shared bool
}

const (
	runLock  = "run.lock"
	planLock = "plan.lock"
)

// IsLock reports whether name is that of a lock file in an output folder.
func IsLock(name string) bool { return strings.HasSuffix(name, ".lock") && ownFile.MatchString(name) }

// errLocked says that another process holds a lock.
var errLocked = errors.New("locked by another process")

// holder is what a lock file says of the run that holds it.
type holder struct {
	PID     int       `json:"pid"`
	Host    string    `json:"host"`
	Started time.Time `json:"started"`
}

func (h *holder) String() string {
	return fmt.Sprintf("process %d on %s, started %s", h.PID, h.Host, h.Started.Format(time.RFC3339))
}

// LockFolder locks an output folder, which must exist, for a run or one shard
// of it. stale describes the run that left a lock file behind without ending
// properly, or is empty.
func LockFolder(dir string, shard config.Shard) (l *Lock, stale string, err error) {
	l = new(Lock)
	if shard.Of == 0 {
		stale, err = l.hold(dir, runLock)
	} else if err = l.share(dir); err == nil {
		stale, err = l.hold(dir, shardLock(shard))
	}
	if err != nil {
		return nil, "", errors.Join(err, l.Release())
	}
	return l, stale, nil
}

// shardLock is the name of the lock file of one shard.
func shardLock(s config.Shard) string { return fmt.Sprintf("run-%d-of-%d.lock", s.Index, s.Of) }

// hold locks the named file for this process alone and writes into it who has
// it.
func (l *Lock) hold(dir, name string) (stale string, err error) {
	path := filepath.Join(dir, name)
	f, was, err := openLocked(path, false, 1)
	if err != nil {
		return "", explainLock(dir, path, err)
	}
	l.held = append(l.held, heldLock{f, false})
	host, _ := os.Hostname()
	mine, err := json.Marshal(holder{os.Getpid(), host, time.Now().UTC()})
	if err == nil {
		err = f.Truncate(0)
	}
	if err == nil {
		_, err = f.WriteAt(append(mine, '\n'), 0)
	}
	if err != nil {
		return "", fmt.Errorf("lock %s: %w; is the disk full?", path, err)
	}
	switch {
	case was == nil:
		return "", nil
	case was.Host == host:
		return fmt.Sprintf("%v, ended without finishing its run", was), nil
	}
	return fmt.Sprintf("%v, ended without finishing its run; if it still runs there, the file system of %s keeps locks to one machine: stop one of the two", was, dir), nil
}

// share locks run.lock together with other shards, and empties it of what a
// killed run may have left. A shard that is just ending has the file for itself
// for a moment.
func (l *Lock) share(dir string) error {
	path := filepath.Join(dir, runLock)
	f, _, err := openLocked(path, true, 10)
	if err != nil {
		return explainLock(dir, path, err)
	}
	l.held = append(l.held, heldLock{f, true})
	return f.Truncate(0)
}

// lockPause is the time between two tries to take a lock.
const lockPause = 10 * time.Millisecond

// openLocked opens and locks a file, and returns what it said before. It tries
// so many times while others hold it.
//
// Between opening and locking, another process may have removed the file and a
// third made it anew, so the lock counts only if the name still stands for the
// file that was locked.
func openLocked(path string, shared bool, tries int) (*os.File, *holder, error) {
	for {
		f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o644)
		if err != nil {
			return nil, nil, err
		}
		err = lockFile(f, shared)
		if err == nil {
			var same bool
			if same, err = stillNamed(f); same {
				return f, readHolder(f), nil
			}
		}
		f.Close()
		if errors.Is(err, errLocked) && tries > 1 {
			tries--
			time.Sleep(lockPause)
		} else if err != nil {
			return nil, nil, err
		}
	}
}

// stillNamed reports whether the name of f still stands for f.
func stillNamed(f *os.File) (bool, error) {
	mine, err := f.Stat()
	if err != nil {
		return false, err
	}
	named, err := os.Stat(f.Name())
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil && os.SameFile(mine, named), err
}

// readHolder returns what a lock file says, or nil.
func readHolder(r io.Reader) *holder {
	content, err := io.ReadAll(io.LimitReader(r, 4096))
	var h holder
	if err != nil || json.Unmarshal(content, &h) != nil {
		return nil
	}
	return &h
}

// explainLock says who holds the lock, or why there can be none.
func explainLock(dir, path string, err error) error {
	switch {
	case errors.Is(err, errLocked):
		return fmt.Errorf("output folder %s is in use by %s; wait until it has ended, stop it, or choose another folder with --out", dir, holdersOf(dir, path))
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, fs.ErrPermission), isReadOnly(err):
		return fmt.Errorf("output folder %s is not writable: %w; choose another with --out", dir, err)
	}
	return fmt.Errorf("lock %s: %w", path,
		atomicfile.Remedy(err, "the file system must support locks (NFS: its lock service; Lustre: the mount option flock): choose a folder on another with --out"))
}

// holdersOf names those who hold the lock at path: the run that wrote the file,
// or the shards that share it.
func holdersOf(dir, path string) string {
	paths := []string{path}
	if filepath.Base(path) == runLock {
		shards, _ := filepath.Glob(filepath.Join(escapeGlob(dir), "run-*-of-*.lock"))
		paths = append(paths, shards...)
	}
	var names []string
	for _, p := range paths {
		f, err := os.Open(p)
		if err != nil {
			continue
		}
		h := readHolder(f)
		f.Close()
		if h != nil {
			names = append(names, fmt.Sprintf("%v (%s)", h, filepath.Base(p)))
		}
	}
	if len(names) == 0 {
		return "another run"
	}
	return strings.Join(names, " and ")
}

// escapeGlob makes a path stand for itself in a pattern.
func escapeGlob(path string) string {
	return strings.NewReplacer(`[`, `[[]`, `*`, `[*]`, `?`, `[?]`).Replace(path)
}

// lockPlan locks the writing of the plan, which several shards may begin with
// at once, and waits for the one that is at it. That takes milliseconds; a lock
// that lasts for seconds is an error.
func lockPlan(dir string) (*Lock, error) {
	path := filepath.Join(dir, planLock)
	f, _, err := openLocked(path, false, 1000)
	if err != nil {
		return nil, explainLock(dir, path, err)
	}
	return &Lock{held: []heldLock{{f, false}}}, nil
}

// Release unlocks the folder and removes the lock files that nobody else
// holds.
func (l *Lock) Release() error {
	var err error
	for len(l.held) > 0 {
		last := l.held[len(l.held)-1]
		l.held = l.held[:len(l.held)-1]
		err = errors.Join(err, removeLocked(last.file, last.shared))
	}
	return err
}
