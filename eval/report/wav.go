package report

import (
	"encoding/base64"
	"errors"
	"html/template"
	"io"
	"math"

	"gonum.org/v1/gonum/floats"

	"phonocycle/pipeline/audio"
)

// wavPeak is the largest magnitude of the audio in a page. All recordings are
// scaled to it, because their gains differ widely.
const wavPeak = 0.9

// wavURI returns samples as a WAV file in a data URI, so that the page needs no
// other file.
func wavURI(samples []float64, rate int) (template.URL, error) {
	peak := floats.Norm(samples, math.Inf(1))
	scaled := make([]float64, len(samples))
	for i, s := range samples {
		if peak > 0 {
			scaled[i] = wavPeak * s / peak
		}
	}
	var file memoryFile
	if err := audio.WriteWAV(&file, scaled, rate); err != nil {
		return "", err
	}
	return template.URL("data:audio/wav;base64," + base64.StdEncoding.EncodeToString(file.content)), nil
}

// memoryFile is an io.WriteSeeker in memory: the header of a WAV file holds its
// length, which is known at the end.
type memoryFile struct {
	content []byte
	at      int
}

// Write implements io.Writer.
func (f *memoryFile) Write(b []byte) (int, error) {
	if need := f.at + len(b) - len(f.content); need > 0 {
		f.content = append(f.content, make([]byte, need)...)
	}
	n := copy(f.content[f.at:], b)
	f.at += n
	return n, nil
}

// Seek implements io.Seeker.
func (f *memoryFile) Seek(offset int64, whence int) (int64, error) {
	from := map[int]int{io.SeekStart: 0, io.SeekCurrent: f.at, io.SeekEnd: len(f.content)}[whence]
	to := int64(from) + offset
	if to < 0 {
		return 0, errors.New("seek before the start")
	}
	f.at = int(to)
	return to, nil
}
