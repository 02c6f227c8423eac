package wfdb

import (
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Errors of this package wrap one of these, or that of a reader.
var (
	ErrHeader    = errors.New("not a header of a WFDB record")
	ErrSegments  = errors.New("record of several segments")
	ErrFormat    = errors.New("signal format that is not read")
	ErrNoSignal  = errors.New("no such signal")
	ErrNoSamples = errors.New("no samples")
)

// Bounds of a header. Records of polysomnography have a few dozen signals.
const (
	maxHeader  = 1 << 20
	maxSignals = 1024
	maxInFrame = 4096 // samples of one signal in a frame
	maxWidth   = 8192 // samples of all signals of a file in a frame
)

// Header is what the header of a record says.
type Header struct {
	Record  string
	Rate    float64 // frames a second
	Frames  int64   // 0 if unknown
	Signals []Signal
}

// Signal is one signal of a record.
type Signal struct {
	File        string // beside the header
	Format      int    // as in the package comment
	PerFrame    int    // samples in a frame
	Skew        int    // frames that precede the record
	Offset      int64  // bytes of the file before the first sample
	Gain        float64
	Baseline    float64
	Units       string // "mV" unless stated
	Resolution  int    // of the converter in bits; 0 if not stated, which means 12
	Zero        int    // of the converter
	Checksum    int16  // 0 if not stated
	Description string

	first, width int // place in the frame of the file, and samples in this
}

// ReadHeader reads a header. Errors name the line.
func ReadHeader(r io.Reader) (*Header, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxHeader+1))
	if err != nil {
		return nil, err
	}
	if len(text) > maxHeader {
		return nil, fmt.Errorf("%w: more than %d KiB: is this the right file?", ErrHeader, maxHeader>>10)
	}
	var h *Header
	number, signals := 0, 0
	for line := range strings.Lines(string(text)) {
		number++
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		switch {
		case h == nil:
			h, signals, err = parseRecord(line)
		case len(h.Signals) < signals:
			var s *Signal
			if s, err = parseSignal(line); err == nil {
				err = h.add(s)
			}
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", number, err)
		}
	}
	switch {
	case h == nil:
		return nil, fmt.Errorf("%w: no record line: fetch the file again", ErrHeader)
	case len(h.Signals) < signals:
		return nil, fmt.Errorf("%w: it claims %d signals and describes %d: fetch the file again", ErrHeader, signals, len(h.Signals))
	case signals == 0:
		return nil, fmt.Errorf("%w: the record has no signal: leave it out", ErrNoSignal)
	}
	return h, nil
}

// malformed says what cannot be read in a line.
func malformed(what, text, want string) error {
	const most = 40
	if len(text) > most {
		text = text[:most] + "…"
	}
	return fmt.Errorf("%w: %s %q: want %s", ErrHeader, what, text, want)
}

// fields takes the fields of a line from the left.
type fields struct{ rest string }

// next returns the next field, empty after the last.
func (f *fields) next() string {
	f.rest = strings.TrimLeft(f.rest, " \t")
	end := strings.IndexAny(f.rest+" ", " \t")
	field := f.rest[:end]
	f.rest = f.rest[end:]
	return field
}

func parseRecord(line string) (h *Header, signals int, err error) {
	f := fields{line}
	name, segments, several := strings.Cut(f.next(), "/")
	if several {
		return nil, 0, fmt.Errorf("%w: %q has %s: name the headers of its segments in the layout, or join the segments into one record", ErrSegments, name, segments)
	}
	h = &Header{Record: name, Rate: 250}
	text := f.next()
	if signals, err = strconv.Atoi(text); err != nil || signals < 0 || signals > maxSignals {
		return nil, 0, malformed("number of signals", text, fmt.Sprintf("a whole number of at most %d", maxSignals))
	}
	if text = f.next(); text != "" {
		rate, _, _ := strings.Cut(text, "/")
		if h.Rate, err = strconv.ParseFloat(rate, 64); err != nil || !(h.Rate > 0) || math.IsInf(h.Rate, 0) {
			return nil, 0, malformed("rate", text, "a number above 0, in hertz")
		}
	}
	if text = f.next(); text != "" {
		if h.Frames, err = strconv.ParseInt(text, 10, 64); err != nil || h.Frames < 0 {
			return nil, 0, malformed("number of samples", text, "a whole number")
		}
	}
	return h, signals, nil
}

var (
	formatField = regexp.MustCompile(`^(\d+)(?:x(\d+))?(?::(\d+))?(?:\+(\d+))?$`)
	gainField   = regexp.MustCompile(`^([^(/]+)(?:\(([^)]*)\))?(?:/(.+))?$`)
)

func parseSignal(line string) (*Signal, error) {
	f := fields{line}
	s := &Signal{File: f.next(), Gain: 200, Units: "mV", PerFrame: 1}
	text := f.next()
	m := formatField.FindStringSubmatch(text)
	if m == nil {
		return nil, malformed("format", text, "a number such as 16, 212 or 16+44")
	}
	var err error
	number := func(text, what string, bits int) (n int64) {
		if text != "" && err == nil {
			if n, err = strconv.ParseInt(text, 10, bits); err != nil {
				err = malformed(what, text, fmt.Sprintf("a whole number of %d bits", bits))
			}
		}
		return n
	}
	s.Format, s.Skew, s.Offset = int(number(m[1], "format", 16)), int(number(m[3], "skew", 32)), number(m[4], "offset", 48)
	if m[2] != "" {
		s.PerFrame = int(number(m[2], "samples per frame", 32))
	}
	gain := f.next()
	resolution, zero, _, checksum, _ := f.next(), f.next(), f.next(), f.next(), f.next()
	s.Resolution, s.Zero = int(number(resolution, "resolution", 16)), int(number(zero, "zero", 32))
	s.Checksum = int16(number(checksum, "checksum", 32))
	s.Description = strings.TrimSpace(f.rest)
	s.Baseline = float64(s.Zero)
	if err == nil && (s.PerFrame < 1 || s.PerFrame > maxInFrame) {
		err = malformed("samples per frame", m[2], fmt.Sprintf("1 to %d", maxInFrame))
	}
	if err == nil && (s.Resolution < 0 || s.Resolution > 32) {
		err = malformed("resolution", resolution, "1 to 32 bits, or 0")
	}
	if err == nil && gain != "" {
		err = s.parseGain(gain)
	}
	return s, err
}

// parseGain reads gain, baseline and units.
func (s *Signal) parseGain(text string) (err error) {
	m := gainField.FindStringSubmatch(text)
	if m == nil {
		return malformed("gain", text, "a number such as 1000 or 1000(0)/mV")
	}
	gain, err := strconv.ParseFloat(m[1], 64)
	if err != nil || math.IsNaN(gain) || math.IsInf(gain, 0) {
		return malformed("gain", text, "a number such as 1000 or 1000(0)/mV")
	}
	if gain != 0 {
		s.Gain = gain
	}
	if m[2] != "" {
		baseline, err := strconv.ParseInt(m[2], 10, 64)
		if err != nil {
			return malformed("baseline", text, "a whole number in brackets")
		}
		s.Baseline = float64(baseline)
	}
	if m[3] != "" {
		s.Units = m[3]
	}
	return nil
}

// add adds a signal, which may share its file with those before it.
func (h *Header) add(s *Signal) error {
	s.width = s.PerFrame
	n := len(h.Signals)
	from := n
	for from > 0 && h.Signals[from-1].File == s.File {
		from--
	}
	for i := range h.Signals[:from] {
		if h.Signals[i].File == s.File && s.File != noFile {
			return fmt.Errorf("%w: the signals of %q do not stand together: fetch the file again", ErrHeader, s.File)
		}
	}
	if s.File != noFile && from < n {
		before := &h.Signals[n-1]
		if before.Format != s.Format || before.Offset != s.Offset {
			return fmt.Errorf("%w: the signals of %q differ in format or offset: fetch the file again", ErrHeader, s.File)
		}
		s.first = before.width
		s.width += before.width
		if s.width > maxWidth {
			return fmt.Errorf("%w: more than %d samples in a frame: is this the right file?", ErrHeader, maxWidth)
		}
		for i := from; i < n; i++ {
			h.Signals[i].width = s.width
		}
	}
	h.Signals = append(h.Signals, *s)
	return nil
}

// Files returns the names of the signal files beside the header, each once.
func (h *Header) Files() []string {
	var names []string
	for i := range h.Signals {
		if s := &h.Signals[i]; s.beside() == nil && !slices.Contains(names, s.File) {
			names = append(names, s.File)
		}
	}
	return names
}

// beside makes sure that the samples of a signal lie in a file beside the header.
func (s *Signal) beside() error {
	switch {
	case s.File == noFile:
		return fmt.Errorf("%w: none are stored of this signal: name another", ErrNoSamples)
	case s.File == "-" || s.File == "." || s.File == ".." || strings.ContainsAny(s.File, `/\`):
		return fmt.Errorf("%w: signal file %q: want the name of a file beside the header", ErrHeader, s.File)
	}
	return nil
}

// noFile stands for the file of a signal of which no samples are stored.
const noFile = "~"

// Find returns the index of a signal by its description or by its number, which
// counts from 1.
func (h *Header) Find(name string) (int, error) {
	found := -1
	for i := range h.Signals {
		if !strings.EqualFold(h.Signals[i].Description, name) || name == "" {
			continue
		}
		if found >= 0 {
			return 0, fmt.Errorf("%w: two signals are called %q: give the number of one: %s", ErrNoSignal, name, h.List())
		}
		found = i
	}
	if n, err := strconv.Atoi(name); found < 0 && err == nil && n >= 1 && n <= len(h.Signals) {
		found = n - 1
	}
	if found < 0 {
		return 0, fmt.Errorf("%w: %q: the record has %s", ErrNoSignal, name, h.List())
	}
	return found, nil
}

// List names the signals for messages, as in "1 PCG, 2 ECG".
func (h *Header) List() string {
	const most = 12
	var names []string
	for i := range h.Signals {
		if i == most {
			names = append(names, fmt.Sprintf("and %d more", len(h.Signals)-most))
			break
		}
		names = append(names, strings.TrimSpace(fmt.Sprintf("%d %s", i+1, h.Signals[i].Description)))
	}
	return strings.Join(names, ", ")
}
