package degraded

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/table/atomicfile"
)

// copier copies files. It holds the buffers of one worker.
type copier struct {
	set         *dataset.Set
	out         string // folder of the copy
	newDegrader func() *degrade.Degrader
	degrader    *degrade.Degrader // nil at first, and after a panic
	decoder     audio.Decoder
}

// recording writes the changed audio of a recording. An error is one of writing; what is
// wrong with the recording stands in its outcome.
func (c *copier) recording(e *corpus.Entry) (*dataset.CopiedRecording, error) {
	r := &dataset.CopiedRecording{Recording: e.Recording.ID, Audio: e.Recording.Audio}
	fail := func(err error) (*dataset.CopiedRecording, error) {
		r.Outcome, r.Reason = dataset.CopyFailed, err.Error()
		return r, nil
	}
	f, err := c.set.OpenFile(r.Audio)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	clip, unread := c.decode(e, f)
	original, err := e.Original(f)
	if err != nil {
		return fail(err)
	}
	text, err := original.MarshalText()
	if err != nil {
		return nil, err
	}
	r.Original = string(text)
	if unread != nil {
		return c.asItIs(r, f, unread)
	}
	if r.Rate, r.Length, r.Repairs = clip.Rate, clip.Duration(), clip.Repairs; c.set.Copy != nil {
		first := c.set.Copy.Of(r.Audio)
		r.Rate, r.Length = first.Rate, first.Length
	}
	if c.degrader == nil {
		c.degrader = c.newDegrader()
	}
	var changed *audio.Clip
	var format audio.Format
	err = corpus.Guard("the condition", func() (err error) {
		changed, format, err = c.degrader.Change(clip, r.Recording, len(c.set.Copy.Earlier()))
		return err
	})
	if err != nil {
		c.degrader = nil // its buffers may be in any state
		return fail(err)
	}
	r.Outcome, r.Encoding = dataset.CopyChanged, format.String()
	r.Digest, err = c.write(r.Audio, func(w io.WriteSeeker) error { return format.Write(w, changed.Samples, changed.Rate) })
	return r, err
}

// decode reads the samples of a recording that a run would read.
func (c *copier) decode(e *corpus.Entry, f *dataset.File) (*audio.Clip, error) {
	if err := e.Unusable(); err != nil {
		return nil, err
	}
	return c.decoder.Decode(f)
}

// asItIs copies the audio of a recording that cannot be changed.
func (c *copier) asItIs(r *dataset.CopiedRecording, f *dataset.File, reason error) (*dataset.CopiedRecording, error) {
	r.Outcome, r.Reason = dataset.CopyUnchanged, reason.Error()
	var err error
	r.Digest, err = c.copyFile(r.Audio, f)
	return r, err
}

// file copies a file byte for byte.
func (c *copier) file(name string) (*dataset.CopiedFile, error) {
	f, err := c.set.OpenFile(name)
	if err != nil {
		return nil, fmt.Errorf("copy of the data set: %w; or move the file out of the data set", err)
	}
	defer f.Close()
	digest, err := c.copyFile(name, f)
	return &dataset.CopiedFile{Path: name, Digest: digest}, err
}

// copyFile writes the content of f under the same name.
func (c *copier) copyFile(name string, f *dataset.File) (string, error) {
	digest, err := c.write(name, func(w io.WriteSeeker) error {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return err
		}
		_, err := io.Copy(w, f)
		return err
	})
	if err == nil {
		_, err = f.Digest() // an error if the file has changed while it was read
	}
	return digest, err
}

// write writes a file of the copy, whole or not at all, and returns its digest.
func (c *copier) write(name string, content func(io.WriteSeeker) error) (digest string, err error) {
	path := filepath.Join(c.out, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return "", fmt.Errorf("copy of the data set: %w; choose another folder with --out", err)
	}
	f, err := atomicfile.Create(path)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	err = content(f)
	if err == nil {
		_, err = f.Seek(0, io.SeekStart)
	}
	if err == nil {
		_, err = io.Copy(sum, f)
	}
	if err != nil {
		err = fmt.Errorf("write %s: %w; is the disk full?", path, err)
	} else {
		err = f.Sync()
	}
	if err != nil {
		return "", errors.Join(err, f.Abort())
	}
	return fmt.Sprintf("%x", sum.Sum(nil)), f.Commit()
}
