package dataset

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// open opens a regular file below the root. Opening a pipe would wait for its
// other end; this does not. The error does not name the file.
func (d *folder) open(name string) (f *os.File, err error) {
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
