package dataset

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

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
