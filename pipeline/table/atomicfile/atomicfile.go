// Package atomicfile writes files that exist whole or not at all, even after a
// power failure: under a temporary name in the same folder, synced, then renamed.
package atomicfile

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
)

// Suffix ends the name of a file that is being written.
const Suffix = ".partial"

// randomLength is the number of letters and digits before Suffix in such a name.
const randomLength = 8

// File is a file under a temporary name beside the name it will have.
type File struct {
	*os.File
	Path string // the name it will have
}

// Create creates a temporary file in the folder of path.
func Create(path string) (*File, error) {
	f, err := os.OpenFile(path+"."+rand.Text()[:randomLength]+Suffix, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, fmt.Errorf("create %s: %w", path, Remedy(err, "the folder must exist and be writable"))
	}
	return &File{f, path}, nil
}

// Remedy returns err with what to do about it: the given text, or where the
// process may open no more files how to raise that limit.
func Remedy(err error, text string) error {
	if errors.Is(err, syscall.EMFILE) || errors.Is(err, syscall.ENFILE) {
		text = "raise the number of files that may be open, as with: ulimit -n 1024"
	}
	return fmt.Errorf("%w; %s", err, text)
}

// Sync makes the content of the file durable.
func (f *File) Sync() error {
	if err := f.File.Sync(); err != nil {
		return fmt.Errorf("sync %s: %w; is the disk full?", f.Path, err)
	}
	return nil
}

// Commit gives a file that is synced its name. On failure nothing is left behind.
func (f *File) Commit() error {
	if err := f.Close(); err != nil {
		return errors.Join(fmt.Errorf("close %s: %w; is the disk full?", f.Path, err), Remove(f.Name()))
	}
	if err := os.Rename(f.Name(), f.Path); err != nil {
		return errors.Join(fmt.Errorf("rename to %s: %w", f.Path, err), Remove(f.Name()))
	}
	if err := syncFolder(filepath.Dir(f.Path)); err != nil {
		return fmt.Errorf("sync folder of %s: %w; the file is there but a power failure could lose it", f.Path, err)
	}
	return nil
}

// Abort closes and removes the temporary file.
func (f *File) Abort() error {
	err := f.Close()
	if errors.Is(err, fs.ErrClosed) {
		err = nil
	}
	return errors.Join(err, Remove(f.Name()))
}

// Remove removes the file at path if it is there.
func Remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// syncFolder makes the entries of a folder durable: without it a renamed file
// can be missing after a power failure although its content was synced.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" { // which cannot sync a folder
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// Write writes data to path, which at any moment holds the old content or the
// new. It removes what a killed writer of that path left beside it.
func Write(path string, data []byte) error {
	if err := removeLeftovers(path); err != nil {
		return err
	}
	f, err := Create(path)
	if err != nil {
		return err
	}
	if _, err := f.File.Write(data); err != nil {
		return errors.Join(fmt.Errorf("write %s: %w; is the disk full?", path, err), f.Abort())
	}
	if err := f.Sync(); err != nil {
		return errors.Join(err, f.Abort())
	}
	return f.Commit()
}

// removeLeftovers removes the temporary files of path. Two programs must not write
// to one path at a time.
func removeLeftovers(path string) error {
	dir, name := filepath.Split(path)
	entries, err := os.ReadDir(filepath.Clean(dir))
	if err != nil {
		return nil // Create says what is wrong with the folder
	}
	for _, e := range entries {
		random, ours := strings.CutPrefix(e.Name(), name+".")
		if ours && strings.HasSuffix(random, Suffix) && len(random) == randomLength+len(Suffix) && e.Type().IsRegular() {
			if err := Remove(filepath.Join(dir, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}
