package wfdb

import (
	"fmt"
	"io"
	"math"
	"path"
	"strings"
)

// Opener opens a signal file by its name beside the header.
type Opener func(name string) (io.ReadSeekCloser, error)

// Reader reads one signal of a record.
type Reader struct {
	Signal   *Signal
	Rate     float64 // samples per second
	Len      int     // samples that there are
	Bits     int     // of the converter, or of the format where the header does not state them
	Warnings []string

	file     io.ReadSeekCloser
	format   format
	complete bool // the file has as many samples as the header claims
}

// maxSamples bounds the samples of a signal: 37 hours at 500 Hz, in 512 MiB.
const maxSamples = 1 << 26

// Open opens a signal by its index from 0. The caller closes the reader.
func (h *Header) Open(i int, open Opener) (*Reader, error) {
	s := &h.Signals[i]
	f, err := s.format()
	if err != nil {
		return nil, err
	}
	if err := s.beside(); err != nil {
		return nil, err
	}
	r := &Reader{Signal: s, Rate: h.Rate * float64(s.PerFrame), Bits: f.bits, format: f}
	if s.Resolution > 0 {
		r.Bits = s.Resolution
	}
	if r.file, err = open(s.File); err != nil {
		return nil, err
	}
	if err := r.measure(h); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// measure finds how many samples there are and moves to the first.
func (r *Reader) measure(h *Header) error {
	s := r.Signal
	size, err := r.file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	have := max(r.format.count(size-s.Offset)/int64(s.width)-int64(s.Skew), 0)
	frames := h.Frames
	if frames == 0 {
		frames = have
	}
	if r.complete = have >= frames; !r.complete {
		r.Warnings = append(r.Warnings, fmt.Sprintf("header claims %d samples and %s has %d; read those", frames, s.File, have))
		frames = have
	}
	switch {
	case frames == 0:
		return fmt.Errorf("%w: %s has %d bytes, of which %d come before its first sample: fetch it again", ErrNoSamples, s.File, size, s.Offset)
	case frames > int64(maxSamples/s.PerFrame):
		return fmt.Errorf("%w: %d frames, and at most %d samples are held in memory: cut the record", ErrHeader, frames, maxSamples)
	}
	r.Len = int(frames) * s.PerFrame
	_, err = r.file.Seek(s.Offset, io.SeekStart)
	return err
}

// Close closes the signal file.
func (r *Reader) Close() error { return r.file.Close() }

// blockSamples is about how many samples of a file are read at once. It is even,
// since format 212 stores pairs.
const blockSamples = 1 << 14

// Read sets dst, of Len elements, to (d − zero)/scale of the stored values d, NaN
// where there is no sample. It can be called once. A checksum that differs becomes
// a warning.
func (r *Reader) Read(dst []float64, zero, scale float64) error {
	s := r.Signal
	noSample := int64(r.format.invalid)
	if strings.EqualFold(path.Ext(s.File), ".wav") {
		noSample = math.MinInt64
	}
	before := s.Skew * s.PerFrame // samples that precede the record
	all := s.Skew + r.Len/s.PerFrame
	perBlock := max(blockSamples/s.width, 1) * 2
	block := make([]byte, r.format.size(int64(perBlock*s.width)))
	sum, at := int16(0), -before
	for frames := 0; frames < all; frames += perBlock {
		n := min(perBlock, all-frames)
		b := block[:r.format.size(int64(n*s.width))]
		if _, err := io.ReadFull(r.file, b); err != nil {
			return fmt.Errorf("reading samples of %s: %w", s.File, err)
		}
		for k := s.first; k < n*s.width; k += s.width {
			for j := range s.PerFrame {
				d := r.format.at(b, k+j)
				sum += int16(d)
				if at >= 0 {
					dst[at] = (float64(d) - zero) / scale
					if int64(d) == noSample {
						dst[at] = math.NaN()
					}
				}
				at++
			}
		}
	}
	if r.complete && s.Checksum != 0 && s.Checksum != sum {
		r.Warnings = append(r.Warnings, fmt.Sprintf("checksum of %s is %d, and its samples give %d: compare the file with its source", s.File, s.Checksum, sum))
	}
	return nil
}

// Samples is a signal in memory.
type Samples struct {
	Values   []float64 // in Units; NaN where there is no sample
	Rate     float64   // in hertz
	Units    string
	Warnings []string
}

// ReadSignal reads a signal of a record, by its index from 0, in physical units.
func (h *Header) ReadSignal(i int, open Opener) (*Samples, error) {
	r, err := h.Open(i, open)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	s := r.Signal
	values := make([]float64, r.Len)
	if err := r.Read(values, s.Baseline, s.Gain); err != nil {
		return nil, err
	}
	return &Samples{Values: values, Rate: r.Rate, Units: s.Units, Warnings: r.Warnings}, nil
}
