package dataset

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"phonocycle/pipeline/table/atomicfile"
)

// folder is a data root. Names below it have no "..", and lead out of it only by
// symbolic links, if those are followed.
type folder struct {
	path   string
	dir    *os.Root
	follow bool // symbolic links, also out of the root and to folders

	room   int             // for linked folders that may still be followed
	links  LinkCounts      // as list found them
	closed map[string]bool // linked folders that list did not follow
}

func openFolder(path string, followLinks bool) (*folder, error) {
	dir, err := os.OpenRoot(path)
	if err != nil {
		return nil, cause(err)
	}
	return &folder{path: path, dir: dir, follow: followLinks, room: maxLinkedFolders, closed: map[string]bool{}}, nil
}

func (f *folder) close() error { return f.dir.Close() }

// maxLinkedFolders bounds the linked folders that are followed below one root.
// Folders that link one another have paths without number.
const maxLinkedFolders = 10_000

// full returns the path of a name below the root.
func (f *folder) full(name string) string { return filepath.Join(f.path, filepath.FromSlash(name)) }

func checkRegular(info fs.FileInfo) error {
	if info.Mode().IsRegular() {
		return nil
	}
	return fmt.Errorf("%s %w", kindOf(info.Mode()), errNoFile)
}

var errNoFile = errors.New("and no file: put the file itself there")

// kindOf names what is not a regular file.
func kindOf(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a named pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}

// cause returns what the operating system said, without the path.
func cause(err error) error {
	var pathErr *fs.PathError
	if errors.As(err, &pathErr) {
		return pathErr.Err
	}
	return err
}

// withRemedy says what to do about a file that cannot be opened or read.
func withRemedy(err error) error {
	err = cause(err)
	switch {
	case errors.Is(err, errNoFile), errors.Is(err, errEscape):
		return err
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w: it was there when the folder was listed: put it back", err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("%w: make it readable", err)
	case errors.Is(err, syscall.ENXIO):
		return fmt.Errorf("%w: a socket or device and no file: put the file itself there", err)
	}
	return atomicfile.Remedy(err, "put the file itself there, and check that its disk can be read")
}

// maxFileSize bounds a file that is read. Half an hour at 192 kHz in eight
// channels of 32 bits would be larger; no recording of heart sounds is.
const maxFileSize = 1 << 30
