package table

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// temporarySuffix ends the name of a file that is being written.
const temporarySuffix = ".partial"

// pendingFile is a file under a temporary name beside the name it will have.
type pendingFile struct {
	path string // the name it will have
	file *os.File
}

// createPending creates a temporary file in the folder of path.
func createPending(path string) (*pendingFile, error) {
	temporary := path + "." + rand.Text()[:8] + temporarySuffix
	f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, fmt.Errorf("create %s: %w; the folder must exist and be writable", path, err)
	}
	return &pendingFile{path: path, file: f}, nil
}

// sync makes the content of the file durable.
func (p *pendingFile) sync() error {
	if err := p.file.Sync(); err != nil {
		return fmt.Errorf("sync %s: %w; is the disk full?", p.path, err)
	}
	return nil
}

// publish gives a file that is synced its name. On failure nothing is left
// behind.
func (p *pendingFile) publish() error {
	if err := p.file.Close(); err != nil {
		return errors.Join(fmt.Errorf("close %s: %w; is the disk full?", p.path, err), remove(p.file.Name()))
	}
	if err := os.Rename(p.file.Name(), p.path); err != nil {
		return errors.Join(fmt.Errorf("rename to %s: %w", p.path, err), remove(p.file.Name()))
	}
	if err := syncDir(filepath.Dir(p.path)); err != nil {
		return fmt.Errorf("sync folder of %s: %w; the file is there but a power failure could lose it", p.path, err)
	}
	return nil
}

// abort closes and removes the temporary file.
func (p *pendingFile) abort() error { return discard(p.file) }

func discard(f *os.File) error {
	err := f.Close()
	if errors.Is(err, fs.ErrClosed) {
		err = nil
	}
	return errors.Join(err, remove(f.Name()))
}

func remove(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// syncDir makes the entries of a folder durable: without it a renamed file can
// be missing after a power failure although its content was synced.
func syncDir(dir string) error {
	if runtime.GOOS == "windows" { // which cannot sync a folder
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// WriteFileAtomic writes data to path by way of a temporary file in the same
// folder, synced and renamed, so that at any moment, even after a power
// failure, path holds the old content or the new and nothing in between.
func WriteFileAtomic(path string, data []byte) error {
	p, err := createPending(path)
	if err != nil {
		return err
	}
	if _, err := p.file.Write(data); err != nil {
		return errors.Join(fmt.Errorf("write %s: %w; is the disk full?", path, err), p.abort())
	}
	if err := p.sync(); err != nil {
		return errors.Join(err, p.abort())
	}
	return p.publish()
}
