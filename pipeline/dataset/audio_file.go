package dataset

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
)

// AudioFile is an audio file that is read in pieces, so that memory does not
// follow its size. Its digest is computed on the way. It serves one goroutine.
type AudioFile struct {
	name string
	file interface {
		fs.File
		io.Seeker
	}
	before fs.FileInfo
	at     int64 // where the next byte is read
	hashed int64 // bytes that the digest has seen
	hash   hash.Hash
}

// OpenAudio opens an audio file below the data root. The caller closes it.
func (s *Set) OpenAudio(name string) (*AudioFile, error) {
	f, err := s.folder.open(name)
	if err != nil {
		return nil, err
	}
	a := &AudioFile{name: name, file: f, hash: sha256.New()}
	if a.before, err = f.Stat(); err == nil && a.before.Size() > maxFileSize {
		err = tooLarge(a.before.Size())
	}
	if err != nil {
		f.Close()
		return nil, a.failed(err)
	}
	return a, nil
}

// AudioDigest returns the digest of an audio file, as [AudioFile.Digest] does.
func (s *Set) AudioDigest(name string) (string, error) {
	a, err := s.OpenAudio(name)
	if err != nil {
		return "", err
	}
	defer a.Close()
	return a.Digest()
}

// Size returns the size of the file on opening, in bytes.
func (a *AudioFile) Size() int64 { return a.before.Size() }

func (a *AudioFile) failed(err error) error { return fmt.Errorf("%s: %w", Printable(a.name), err) }

// Close releases the file.
func (a *AudioFile) Close() error { return a.file.Close() }

// Read reads the next bytes.
func (a *AudioFile) Read(p []byte) (int, error) {
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
func (a *AudioFile) Seek(offset int64, whence int) (int64, error) {
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
func (a *AudioFile) digestTo(end int64) error {
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
func (a *AudioFile) Digest() (string, error) {
	size := a.before.Size()
	if err := a.digestTo(size + 1); err != nil { // one byte more shows whether the file has grown
		return "", a.failed(err)
	}
	after, err := a.file.Stat()
	if err != nil {
		return "", a.failed(withRemedy(err))
	}
	if a.hashed != size || !unchanged(a.before, after) {
		return "", a.failed(errChanged)
	}
	return fmt.Sprintf("%x", a.hash.Sum(nil)), nil
}
