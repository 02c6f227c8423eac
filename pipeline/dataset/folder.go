package dataset

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
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

// full returns the path of a name below the root.
func (f *folder) full(name string) string { return filepath.Join(f.path, filepath.FromSlash(name)) }

// listing is what lies below a folder.
type listing struct {
	folder   *folder
	files    []string // every regular file and every link to no folder, sorted
	others   []string // what is neither a file nor a folder that was read, sorted
	unread   []string // folders that were not read
	outside  []string // links out of the root that were not read
	unlinked []string // linked folders that were not followed for want of the flag
	defects  []Defect
	warnings []string
}

// list lists all that lies below f. Names that begin with a dot belong to the
// file system and are left out.
//
// What stands in the place of a recording and is no file, such as a pipe, is
// listed too, and so is every link that cannot be read: it becomes a recording,
// an annotation or a table that fails with the reason and not one that is
// missing. A folder that cannot be listed is a defect and a warning.
func (f *folder) list() (*listing, error) {
	l := &listing{folder: f}
	err := l.walk(".")
	slices.Sort(l.files)
	slices.Sort(l.others)
	l.warn("%d folders were not read, the first is %s: recordings in them are missing; scan says why", l.unread)
	l.warn("%d linked folders were not followed, the first is %s: recordings in them are missing; give --follow-links to read them", l.unlinked)
	l.warn("%d files are symbolic links out of the data root and were not read, the first is %s; give --follow-links to read them", l.outside)
	return l, err
}

// warn adds a warning of the names, if there are any, with their number and the
// first of them.
func (l *listing) warn(format string, names []string) {
	if len(names) > 0 {
		l.warnings = append(l.warnings, fmt.Sprintf(format, len(names), Printable(names[0])))
	}
}

// walk lists a folder, which may be a link, and all below it.
func (l *listing) walk(start string) error {
	f := l.folder
	tree := f.dir.FS()
	if f.follow {
		tree = os.DirFS(f.path)
	}
	return fs.WalkDir(tree, start, func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return fmt.Errorf("list data root %s: %w; make the folder readable, or give another with --data", f.path, cause(err))
		case err != nil:
			l.unread = append(l.unread, name)
			l.defects = append(l.defects, folderUnreadable.at(name, 0, cause(err)))
			return fs.SkipDir
		case name == start:
		case strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular():
			l.files = append(l.files, name)
		case entry.Type()&fs.ModeSymlink != 0:
			return l.addLink(name)
		default:
			l.others = append(l.others, name)
		}
		return nil
	})
}

// find returns the index of a file, or −1 for one that lies behind a linked
// folder which was not followed: it is there, and opening it says why it is not
// read.
func (l *listing) find(name string) (at int, ok bool) {
	if at, ok := slices.BinarySearch(l.files, name); ok {
		return at, true
	}
	if l.folder.behind(name) == "" {
		return 0, false
	}
	_, err := os.Stat(l.folder.full(name))
	return -1, err == nil
}

// open opens a regular file below the root. Opening a pipe would wait for its
// other end; this does not.
func (d *folder) open(name string) (*os.File, error) {
	f, err := d.openRegular(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", Printable(name), err)
	}
	return f, nil
}

func (d *folder) openRegular(name string) (f *os.File, err error) {
	if link := d.behind(name); link != "" {
		if err := d.linkError(link); err != nil {
			return nil, fmt.Errorf("%s: %w", Printable(link), err)
		}
	}
	if d.follow {
		f, err = d.openFollowing(name)
	} else {
		f, err = d.dir.OpenFile(filepath.FromSlash(name), os.O_RDONLY|syscall.O_NONBLOCK, 0)
	}
	if err != nil {
		return nil, cmp.Or(d.linkError(name), withRemedy(err))
	}
	info, err := f.Stat()
	if err == nil {
		err = checkRegular(info)
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

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
	return fmt.Errorf("%w: put the file itself there, and check that its disk can be read", err)
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
