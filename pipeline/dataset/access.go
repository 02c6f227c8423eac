package dataset

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
)

// MaxAudioSize bounds the size of an audio file that ReadFile reads: half an
// hour at 192 kHz in eight channels of 32 bits would be larger, and no
// recording of heart sounds is.
const MaxAudioSize = 1 << 30

// ReadFile returns the content of a file below the data root.
func (s *Set) ReadFile(name string) ([]byte, error) {
	f, err := s.open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s: not a regular file", name)
	case info.Size() > MaxAudioSize:
		return nil, fmt.Errorf("%s: %d bytes, more than the %d MiB that are read", name, info.Size(), MaxAudioSize>>20)
	}
	content := make([]byte, 0, info.Size()+1)
	for {
		n, err := f.Read(content[len(content):cap(content)])
		content = content[:len(content)+n]
		if err == io.EOF {
			return content, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if len(content) > MaxAudioSize {
			return nil, fmt.Errorf("%s: grew beyond %d MiB while it was read", name, MaxAudioSize>>20)
		}
		if len(content) == cap(content) {
			content = append(content, 0)[:len(content)]
		}
	}
}

// Digest identifies the layout by the text that it was read from.
func (l *Layout) Digest() string {
	sum := sha256.Sum256(l.Text)
	return hex.EncodeToString(sum[:])
}

// LabelDoc says where a label comes from, for the metadata of a column.
func (l *Layout) LabelDoc(name string) string {
	for _, t := range l.Tables {
		for _, rule := range t.Labels {
			if rule.Name == name {
				return fmt.Sprintf("label of the data set: column %s of %s", rule.Column, t.Path)
			}
		}
	}
	return "label of the data set: part of the file's path"
}
