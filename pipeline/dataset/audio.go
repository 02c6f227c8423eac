package dataset

import (
	"crypto/sha256"
	"fmt"
	"io"

	"phonocycle/pipeline/audio/wfdb"
)

// Audio is the open audio of a recording: a WAV file, or one signal of a WFDB
// record. It serves one goroutine.
type Audio struct {
	*File                // with the samples
	Signal  *wfdb.Reader // of a record; nil for a WAV file
	Signals int          // of the record

	set    *Set
	header *File
	record *wfdb.Header
}

// OpenAudio opens the audio file of a recording. Of a WFDB record it opens the
// signal of that number from 1, or for 0 the one that the layout names, or the
// only one. The caller closes it.
func (s *Set) OpenAudio(file string, channel int) (*Audio, error) {
	f, err := s.OpenFile(file)
	switch {
	case err != nil:
		return nil, err
	case !IsRecord(file):
		return &Audio{File: f}, nil
	}
	a := &Audio{set: s, header: f}
	if a.record, err = wfdb.ReadHeader(f); err == nil {
		err = a.openSignal(channel)
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", Printable(file), err)
	}
	return a, nil
}

// openSignal opens the signal of a record that a run reads.
func (a *Audio) openSignal(channel int) error {
	name, i := a.set.Layout.Audio.Channel, channel-1
	var err error
	switch {
	case channel > len(a.record.Signals):
		return fmt.Errorf("%w: number %d: the record has %s: correct --channel", wfdb.ErrNoSignal, channel, a.record.List())
	case channel > 0:
	case name != "":
		if i, err = a.record.Find(name); err != nil {
			return fmt.Errorf("%w: correct audio.channel in the layout, or give the number as --channel", err)
		}
	case len(a.record.Signals) == 1:
		i = 0
	default:
		return fmt.Errorf("the record has the signals %s: name the one with the heart sound as audio.channel in the layout, or give its number as --channel", a.record.List())
	}
	a.Signals = len(a.record.Signals)
	a.Signal, err = a.record.Open(i, func(name string) (io.ReadSeekCloser, error) {
		f, err := a.set.folder.openSignalFile(a.header.name, name)
		a.File = f
		return f, err
	})
	return err
}

// Close releases the files.
func (a *Audio) Close() error {
	if a.header != nil {
		a.header.Close()
	}
	return a.File.Close()
}

// Digest returns the SHA-256 of a WAV file in hexadecimal; of a record it covers
// the header and all signal files.
func (a *Audio) Digest() (string, error) {
	if a.header == nil {
		return a.File.Digest()
	}
	return recordDigest(a.record, a.header, func(name string) (string, error) {
		if a.File != nil && name == a.Signal.Signal.File {
			return a.File.Digest()
		}
		return a.set.FileDigest(besideOf(a.header.name, name))
	})
}

// recordDigest covers a header and the signal files that it names. One that
// cannot be read counts as absent: a run may need another only.
func recordDigest(record *wfdb.Header, header *File, digest func(name string) (string, error)) (string, error) {
	all := sha256.New()
	own, err := header.Digest()
	if err != nil {
		return "", err
	}
	fmt.Fprintln(all, own)
	for _, name := range record.Files() {
		of, err := digest(name)
		if err != nil {
			of = "unreadable"
		}
		fmt.Fprintln(all, of)
	}
	return fmt.Sprintf("%x", all.Sum(nil)), nil
}

// AudioDigest returns the digest of the audio of a recording as [Audio.Digest]
// does. A header that cannot be understood stands for itself alone.
func (s *Set) AudioDigest(file string) (string, error) {
	if !IsRecord(file) {
		return s.FileDigest(file)
	}
	f, err := s.OpenFile(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	record, err := wfdb.ReadHeader(f)
	if err != nil {
		return f.Digest()
	}
	a := &Audio{set: s, header: f, record: record}
	return a.Digest()
}

// SampleFiles returns the files with the samples of a recording: the audio file,
// or the signal files of a record.
func (s *Set) SampleFiles(file string) ([]string, error) {
	if !IsRecord(file) {
		return []string{file}, nil
	}
	f, err := s.OpenFile(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	record, err := wfdb.ReadHeader(f)
	if err != nil {
		return nil, err
	}
	files := record.Files()
	for i := range files {
		files[i] = besideOf(file, files[i])
	}
	return files, nil
}
