package dataset

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"path"
)

// File is a file below a data root that is read in pieces, so that memory does not
// follow its size. Its digest is computed on the way. It serves one goroutine.
type File struct {
	name   string
	file   seekableFile
	before fs.FileInfo
	at     int64 // where the next byte is read
	hashed int64 // bytes that the digest has seen
	hash   hash.Hash
}

type seekableFile interface {
	fs.File
	io.Seeker
}

// copyTo writes a file to w.
func (d *folder) copyTo(w io.Writer, name string) error {
	f, err := d.openFile(name)
	if err != nil {
		return fmt.Errorf("%s: %w", Printable(name), err)
	}
	defer f.Close()
	if _, err := io.Copy(w, f); err != nil {
		return f.failed(err)
	}
	_, err = f.Digest() // to see that it has not changed
	return err
}

// openFile is OpenFile, with an error that does not name the file.
func (d *folder) openFile(name string) (*File, error) {
	f, err := d.open(name)
	if err != nil {
		return nil, err
	}
	file, err := newFile(name, f)
	if err != nil {
		f.Close()
	}
	return file, err
}

// openSignalFile opens a signal file that the header of a WFDB record names.
func (d *folder) openSignalFile(header, name string) (*File, error) {
	file := besideOf(header, name)
	f, err := d.openFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("signal file %s is not there: fetch it", Printable(file))
	case err != nil:
		return nil, fmt.Errorf("%s: %w", Printable(file), err)
	}
	return f, nil
}

// besideOf returns the path of a file beside the header of a record.
func besideOf(header, name string) string { return path.Join(path.Dir(header), name) }

func newFile(name string, f seekableFile) (*File, error) {
	before, err := f.Stat()
	if err != nil {
		return nil, withRemedy(err)
	}
	if before.Size() > maxFileSize {
		return nil, fmt.Errorf("%d bytes, more than the %d MiB that are read: cut it into recordings", before.Size(), maxFileSize>>20)
	}
	return &File{name: name, file: f, before: before, hash: sha256.New()}, nil
}

// Size returns the size of the file on opening, in bytes.
func (a *File) Size() int64 { return a.before.Size() }

func (a *File) failed(err error) error { return fmt.Errorf("%s: %w", Printable(a.name), err) }

// Close releases the file.
func (a *File) Close() error { return a.file.Close() }

// Read reads the next bytes.
func (a *File) Read(p []byte) (int, error) {
	n, err := a.file.Read(p)
	if end := a.at + int64(n); end > a.hashed && a.at <= a.hashed {
		a.hash.Write(p[a.hashed-a.at : n])
		a.hashed = end
	}
	a.at += int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		err = withRemedy(err)
	}
	return n, err
}

// Seek sets where the next byte is read. The end is where it was on opening.
func (a *File) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += a.at
	case io.SeekEnd:
		offset += a.before.Size()
	}
	if offset > a.hashed && offset < a.before.Size() { // what is passed over is digested
		if err := a.digestTo(offset); err != nil {
			return a.at, err
		}
	}
	at, err := a.file.Seek(offset, io.SeekStart)
	if err == nil {
		a.at = at
	}
	return a.at, err
}

// digestTo reads on from where the digest stands to the given place.
func (a *File) digestTo(end int64) error {
	if a.hashed >= end {
		return nil
	}
	if _, err := a.file.Seek(a.hashed, io.SeekStart); err != nil {
		return withRemedy(err)
	}
	a.at = a.hashed
	block := make([]byte, min(end-a.at, 1<<16))
	for a.at < end {
		if _, err := a.Read(block[:min(end-a.at, int64(len(block)))]); err != nil {
			if errors.Is(err, io.EOF) {
				err = nil
			}
			return err
		}
	}
	return nil
}

// Digest reads what is left of the file and returns the SHA-256 of all of it in
// hexadecimal. A file that has changed since it was opened is an error, since
// half of the old and half of the new content make no recording.
func (a *File) Digest() (string, error) {
	size := a.before.Size()
	if err := a.digestTo(size + 1); err != nil { // one byte more shows whether the file has grown
		return "", a.failed(err)
	}
	after, err := a.file.Stat()
	if err != nil {
		return "", a.failed(withRemedy(err))
	}
	if a.hashed != size || after.Size() != size || !after.ModTime().Equal(a.before.ModTime()) {
		return "", a.failed(errors.New("changed while it was read: run again when nothing writes to the data set"))
	}
	return fmt.Sprintf("%x", a.hash.Sum(nil)), nil
}
