package dataset

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"phonocycle/pipeline/table/atomicfile"
)

// folder is a data root. Only what lies below it is read, also after links.
type folder struct {
	path string
	dir  *os.Root
}

func openFolder(path string) (*folder, error) {
	dir, err := os.OpenRoot(path)
	if err != nil {
		return nil, cause(err)
	}
	return &folder{path, dir}, nil
}

func (f *folder) close() error { return f.dir.Close() }

// listing is what lies below a folder.
type listing struct {
	files    []string // every regular file, sorted
	others   []string // what is neither a file nor a folder that was read, sorted
	unread   []string // folders that were not read
	defects  []Defect
	warnings []string
}

// list lists all that lies below f. Names that begin with a dot belong to the
// file system and are left out.
//
// What stands in the place of a recording and is no file, such as a pipe or a
// link to no file, is listed too, so that it becomes a recording that fails and
// not one that is missing. A folder that cannot be listed is a defect and a
// warning.
func (f *folder) list() (*listing, error) {
	l := &listing{}
	err := fs.WalkDir(f.dir.FS(), ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return fmt.Errorf("list data root %s: %w; make the folder readable, or give another with --data", f.path, cause(err))
		case err != nil:
			l.unread = append(l.unread, name)
			l.defects = append(l.defects, folderUnreadable.at(name, 0, cause(err)))
			return fs.SkipDir
		case name == ".":
		case strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular():
			l.files = append(l.files, name)
		case entry.Type()&fs.ModeSymlink != 0:
			l.addLink(f, name)
		default:
			l.others = append(l.others, name)
		}
		return nil
	})
	slices.Sort(l.files)
	slices.Sort(l.others)
	if n := len(l.unread); n > 0 {
		l.warnings = append(l.warnings, fmt.Sprintf("%d folders were not read, the first is %s: recordings in them are missing; scan says why",
			n, Printable(l.unread[0])))
	}
	return l, err
}

func (l *listing) addLink(f *folder, name string) {
	info, err := f.dir.Stat(filepath.FromSlash(name))
	switch {
	case err != nil:
		l.defects = append(l.defects, linkOutside.at(name, 0))
		l.others = append(l.others, name)
	case info.IsDir():
		l.defects = append(l.defects, folderLinked.at(name, 0))
		l.unread = append(l.unread, name)
	case info.Mode().IsRegular():
		l.files = append(l.files, name)
	default:
		l.others = append(l.others, name)
	}
}

// find returns the index of a regular file.
func (l *listing) find(name string) (at int, ok bool) { return slices.BinarySearch(l.files, name) }

// open opens a regular file below the root. Opening a pipe would wait for its
// other end; this does not.
func (d *folder) open(name string) (*os.File, error) {
	f, err := d.dir.OpenFile(filepath.FromSlash(name), os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", Printable(name), withRemedy(err))
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%s and no file: put the file itself there", kindOf(info.Mode()))
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", Printable(name), err)
	}
	return f, nil
}

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
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("%w: it was there when the folder was listed, or is a link that leads nowhere: put it back", err)
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

// read returns the content of a file, in the memory of buffer if that is large
// enough. A file that changes while it is read is an error, since half of the
// old and half of the new content make no recording.
func (d *folder) read(buffer []byte, name string) ([]byte, error) {
	f, err := d.open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	content, err := readUnchanged(buffer, f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", Printable(name), err)
	}
	return content, nil
}

func readUnchanged(buffer []byte, f fs.File) ([]byte, error) {
	before, err := f.Stat()
	if err != nil {
		return nil, withRemedy(err)
	}
	if before.Size() > maxFileSize {
		return nil, fmt.Errorf("%d bytes, more than the %d MiB that are read: cut it into recordings", before.Size(), maxFileSize>>20)
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
	if int64(n) != before.Size() || after.Size() != before.Size() || !after.ModTime().Equal(before.ModTime()) {
		return nil, errors.New("changed while it was read: run again when nothing writes to the data set")
	}
	return content[:n], nil
}
