package dataset

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"unicode"
)

// walk lists the files below the root. Names that begin with a dot are the
// file system's own and are passed over.
//
// What stands in the place of a recording and is no file, such as a pipe or a
// link that leads nowhere, is listed too, so that it becomes a recording that
// fails instead of one that is not there. A folder that cannot be listed is a
// defect and a warning.
func (s *Set) walk() error {
	err := fs.WalkDir(s.dir.FS(), ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil && name == ".":
			return fmt.Errorf("list data root %s: %w; make the folder readable, or give another with --data", s.Root, cause(err))
		case err != nil:
			s.unlisted = append(s.unlisted, name)
			s.report(Defect{File: name, Kind: KindFolder, Message: "folder cannot be listed: " + cause(err).Error(),
				Action: "what lies in it is not read: make it readable, or move it out of the data root"})
			return fs.SkipDir
		case name == ".":
		case strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular():
			s.files = append(s.files, name)
		case entry.Type()&fs.ModeSymlink != 0:
			s.followLink(name)
		default:
			s.others = append(s.others, name)
		}
		return nil
	})
	slices.Sort(s.files)
	slices.Sort(s.others)
	if n := len(s.unlisted); n > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%d folders were not looked into, the first %s: recordings in them are missing; scan says why",
			n, Printable(s.unlisted[0])))
	}
	return err
}

func (s *Set) followLink(name string) {
	info, err := s.dir.Stat(filepath.FromSlash(name))
	switch {
	case err != nil:
		s.report(Defect{File: name, Kind: KindOutside, Message: "symbolic link that leads out of the data root, in a circle or nowhere",
			Action: "not read: put the file itself there, or a relative link to a file below the root"})
		s.others = append(s.others, name)
	case info.IsDir():
		s.report(Defect{File: name, Kind: KindLinkedFolder, Message: "symbolic link to a folder", Action: "not followed"})
		s.unlisted = append(s.unlisted, name)
	case info.Mode().IsRegular():
		s.files = append(s.files, name)
	default:
		s.others = append(s.others, name)
	}
}

// isFile reports whether name is a regular file below the root.
func (s *Set) isFile(name string) bool {
	_, found := slices.BinarySearch(s.files, name)
	return found
}

// open opens a regular file that lies below the root, also after following
// links. Opening a pipe would wait for its other end; this does not.
func (s *Set) open(name string) (*os.File, error) {
	f, err := s.dir.OpenFile(filepath.FromSlash(name), os.O_RDONLY|syscall.O_NONBLOCK, 0)
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
	return fmt.Errorf("%w: put the file itself there, and see that its disk can be read", err)
}

// MaxAudioSize bounds the size of an audio file that ReadFile reads: half an
// hour at 192 kHz in eight channels of 32 bits would be larger, and no
// recording of heart sounds is.
const MaxAudioSize = 1 << 30

// ReadFile returns the content of a file below the data root. One that changes
// while it is read is an error, since half of the old and half of the new
// would be a recording that nobody made.
func (s *Set) ReadFile(name string) ([]byte, error) { return s.ReadFileInto(nil, name) }

// ReadFileInto is ReadFile in the memory of buffer, where that is large enough.
func (s *Set) ReadFileInto(buffer []byte, name string) ([]byte, error) {
	f, err := s.open(name)
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
	if before.Size() > MaxAudioSize {
		return nil, fmt.Errorf("%d bytes, more than the %d MiB that are read: cut it into recordings", before.Size(), MaxAudioSize>>20)
	}
	// One byte more than there should be, to see whether more has come.
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

// Printable returns name as text that any table and terminal can hold. File
// systems allow any bytes in names; a name that is not UTF-8, or holds
// characters that do not print, is written with the escapes of Go and C, as in
// caf\xe9 or a\nb.
func Printable(name string) string {
	// What is not UTF-8 reads as U+FFFD, which prints and so is asked for.
	if strings.IndexFunc(name, func(r rune) bool { return !unicode.IsPrint(r) || r == unicode.ReplacementChar }) < 0 {
		return name
	}
	quoted := strconv.Quote(name)
	return strings.ReplaceAll(quoted[1:len(quoted)-1], `\"`, `"`)
}
