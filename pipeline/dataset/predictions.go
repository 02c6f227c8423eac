package dataset

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// Format describes how another program writes its segmentations as text. Its
// keys are those of the reference in a layout, and mean the same, beside one:
// where times are samples, rate is the sampling rate in hertz at which they
// count, by default that of the recording.
//
// Segmentations are read as references are, and mended by the same rules.
type Format struct {
	ReferenceRule `yaml:",inline"`
	Rate          int `yaml:"rate"`

	// Text is the format as it was read, for a digest of the configuration.
	Text []byte `yaml:"-"`

	document *document
}

// LoadFormat reads a format from a YAML file. Errors say file, line and column.
func LoadFormat(file string) (*Format, error) {
	text, err := readLayoutFile(file)
	if err != nil {
		return nil, fmt.Errorf("format %s: %w", file, err)
	}
	f := &Format{Text: bytes.Clone(text)}
	if f.document, err = decodeStrict(file, text, f); err != nil {
		return nil, err
	}
	return f, nil
}

// compile checks f for a data set whose templates may use the given fields.
func (f *Format) compile(fields []string) (referenceProgram, error) {
	if f.Kind == pcg.PointReference {
		return referenceProgram{}, bad("$.kind", "points say nothing of where a sound begins and ends: want intervals or starts")
	}
	if f.Kind == pcg.NoReference {
		return referenceProgram{}, bad("$.kind", "missing: want intervals or starts")
	}
	if f.Rate < 0 || (f.Rate > 0 && f.Unit != unitSamples) {
		return referenceProgram{}, bad("$.rate", "%d: it is the rate in hertz of times in samples", f.Rate)
	}
	return compileReference("$", &f.ReferenceRule, fields)
}

// ErrNoPrediction says that another program gave nothing for a recording.
var ErrNoPrediction = errors.New("no prediction for this recording")

// Predictions are the segmentations that another program made of the recordings
// of a set. Of may be called from several goroutines at once.
type Predictions struct {
	set  *Set
	rate int // 0: that of each recording
	file map[string]string

	// Warnings are what a user has to be told beside any result.
	Warnings []string

	// Digest identifies the content of all files that are read, and the format.
	Digest string
}

// OpenPredictions finds the segmentations of the recordings of s: below a
// folder, by the paths of the format, or in the one file. What speaks of no
// recording of s is an error that names the file, and the line in a table of all
// recordings.
func (s *Set) OpenPredictions(folderOrFile string, f *Format) (*Predictions, error) {
	format, root := *f, folderOrFile
	info, err := os.Stat(folderOrFile)
	if err != nil {
		return nil, fmt.Errorf("predictions: %w", err)
	}
	if !info.IsDir() {
		if f.Key == "" {
			return nil, f.document.place(bad("$.key", "missing: %s is one file for all recordings: which column names the recording?", folderOrFile))
		}
		root, format.Paths = filepath.Dir(folderOrFile), []string{filepath.Base(folderOrFile)}
	}
	fields, err := new(program).compileNames(s.Layout)
	if err != nil {
		return nil, fmt.Errorf("layout %s: %w", s.Layout.Name, err)
	}
	reference, err := format.compile(fields)
	if err != nil {
		return nil, f.document.place(err)
	}
	reference.Optional = true // a recording without is listed by the caller
	dir, err := os.OpenRoot(root)
	if err != nil {
		return nil, fmt.Errorf("predictions in %s: %w", root, cause(err))
	}
	of := &Set{Root: root, Layout: s.Layout, dir: dir, Recordings: slices.Clone(s.Recordings),
		program: &program{names: s.program.names, reference: reference}}
	for i := range of.Recordings {
		of.Recordings[i].Reference = ""
	}
	p := &Predictions{set: of, rate: f.Rate}
	if err := p.find(f.Text); err != nil {
		dir.Close()
		return nil, fmt.Errorf("predictions in %s: %w", folderOrFile, err)
	}
	return p, nil
}

// Close releases the folder of the predictions.
func (p *Predictions) Close() error { return p.set.Close() }

// find looks for the segmentation of each recording and takes the digest.
func (p *Predictions) find(format []byte) error {
	if err := p.set.walk(); err != nil {
		return err
	}
	p.set.findReferences()
	p.Warnings = p.set.Warnings
	sortDefects(p.set.Defects)
	for i := range p.set.Defects {
		d := &p.set.Defects[i]
		switch d.Kind {
		case KindRecordingMissing, KindColumnMissing, KindColumns, KindTableMissing, KindText:
			return fmt.Errorf("%s: %s", d.Place(), d.Message)
		}
		p.Warnings = append(p.Warnings, d.String())
	}
	p.file = make(map[string]string)
	var files []string
	for _, rec := range p.set.Recordings {
		if rec.Reference != "" {
			p.file[rec.ID] = rec.Reference
			files = append(files, rec.Reference)
		}
	}
	p.set.forget()
	if len(files) == 0 {
		return errors.New("no file belongs to a recording: see paths, key and match in the format")
	}
	slices.Sort(files)
	return p.digest(format, slices.Compact(files))
}

// digest takes in the format and the names and contents of files.
func (p *Predictions) digest(format []byte, files []string) error {
	h := sha256.New()
	h.Write(format)
	for _, name := range files {
		f, err := p.set.open(name)
		if err != nil {
			return err
		}
		fmt.Fprintf(h, "\n%q\n", name)
		_, err = io.Copy(h, f)
		f.Close()
		if err != nil {
			return fmt.Errorf("%s: %w", name, cause(err))
		}
	}
	p.Digest = hex.EncodeToString(h.Sum(nil))
	return nil
}

// Of reads, checks and mends the segmentation of a recording of the set, whose
// audio has the given rate and length, and returns with it what was mended. The
// error wraps ErrNoPrediction where there is none, and else says by file and line
// why the segmentation cannot be used.
func (p *Predictions) Of(rec *pcg.Recording, rate int, length time.Duration) ([]pcg.Interval, []string, error) {
	file, ok := p.file[rec.ID]
	if !ok {
		return nil, nil, ErrNoPrediction
	}
	if p.rate > 0 {
		rate = p.rate
	}
	with := *rec
	with.Reference = file
	ref, defects := p.set.examine(&with, rate, length)
	return usable(ref, defects)
}

// usable returns the intervals of a segmentation that no defect excludes.
func usable(ref pcg.Reference, defects []Defect) ([]pcg.Interval, []string, error) {
	for i := range defects {
		if d := &defects[i]; d.Excludes {
			return nil, nil, fmt.Errorf("prediction unusable: %s: %s", d.Place(), d.Message)
		}
	}
	return ref.Intervals, ref.Repairs, nil
}

// Row is one interval of a segmentation as a table of another program has it.
type Row struct {
	Number     int // of the row in its file, from 1
	Start, End time.Duration
	State      string // in the words of pcg.ParseState
}

// MendRows checks and mends the rows of one recording that lasts length, as
// those of a file of text, and returns what was mended.
func MendRows(file string, rows []Row, length time.Duration) ([]pcg.Interval, []string, error) {
	m := mender{file: file, length: length}
	list := make([]row, len(rows))
	for i, r := range rows {
		state, err := pcg.ParseState(r.State)
		list[i] = row{line: r.Number, start: r.Start, end: r.End, code: r.State, state: state, known: err == nil}
	}
	ref := m.settle(pcg.Reference{Intervals: m.intervals(list)}, "")
	return usable(ref, m.defects)
}
