package dataset

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
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

func readUnchanged(buffer []byte, f fs.File) ([]byte, error) {
	before, err := f.Stat()
	if err != nil {
		return nil, withRemedy(err)
	}
	if before.Size() > maxFileSize {
		return nil, tooLarge(before.Size())
	}
	// Room for one byte more shows whether the file has grown.
	content := slices.Grow(buffer[:0], int(before.Size())+1)[:before.Size()+1]
	n, err := io.ReadFull(f, content)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, withRemedy(err)
	}
	after, err := f.Stat()
	if err != nil {
		return nil, withRemedy(err)
	}
	if int64(n) != before.Size() || !unchanged(before, after) {
		return nil, errChanged
	}
	return content[:n], nil
}

func tooLarge(size int64) error {
	return fmt.Errorf("%d bytes, more than the %d MiB that are read: cut it into recordings", size, maxFileSize>>20)
}

var errChanged = errors.New("changed while it was read: run again when nothing writes to the data set")

func unchanged(before, after fs.FileInfo) bool {
	return after.Size() == before.Size() && after.ModTime().Equal(before.ModTime())
}
