package dataset

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/yamlcheck"
)

// Format describes how another program writes its segmentations as text. Its
// keys are those of the reference in a layout, and mean the same, beside one:
// where times are samples, rate is the sampling rate in hertz at which they
// count, by default that of the recording.
//
// Segmentations are read and repaired as references are.
type Format struct {
	ReferenceRule `yaml:",inline"`
	Rate          int `yaml:"rate"`

	// FittedOn declares on whom the program was fitted: a list of people, the name of
	// one, or folds with one for each fold. Without it nothing is known.
	FittedOn ast.Node `yaml:"fitted-on"`

	// Training is what FittedOn says; nil where it says nothing. DeclaresFolds says that
	// there is a list for each fold.
	Training      []TrainingList `yaml:"-"`
	DeclaresFolds bool           `yaml:"-"`

	// Text is the format as it was read, for a digest of the configuration.
	Text []byte `yaml:"-"`

	document *yamlcheck.Document
}

// LoadFormat reads a format from a YAML file. Errors say file, line and column.
func LoadFormat(file string) (*Format, error) {
	text, err := yamlcheck.ReadFile(file, maxLayoutSize)
	if err != nil {
		return nil, fmt.Errorf("format %s: %w", file, err)
	}
	f := &Format{Text: text}
	if f.document, err = yamlcheck.Decode(file, text, maxLayoutSize, f); err != nil {
		return nil, err
	}
	if err := f.declaration(); err != nil {
		return nil, f.document.Errors([]*yamlcheck.KeyError{{Key: "$.fitted-on", Err: err}})
	}
	return f, nil
}

// format checks f for a data set whose templates may use the given fields.
func (c *checker) format(f *Format, fields []string) compiledReference {
	c.oneOf("$.kind", string(f.Kind), string(pcg.IntervalReference), string(pcg.PointReference), string(pcg.StateStartsReference))
	if f.Rate < 0 || (f.Rate > 0 && f.Unit != unitSamples) {
		c.fail("$.rate", "%d: it is the rate in hertz of times in samples", f.Rate)
	}
	return c.reference("$", &f.ReferenceRule, fields)
}

// ErrNoPrediction says that another program has no segmentation of a recording.
var ErrNoPrediction = errors.New("no prediction for this recording")

// Predictions are the segmentations that another program made of the recordings
// of a set. Of may be called from several goroutines at once.
type Predictions struct {
	references references
	rate       int               // 0: that of each recording
	file       map[string]string // by recording

	// Points says that the program marks points, which have no durations.
	Points bool

	// Warnings belong beside any result.
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
		return nil, fmt.Errorf("predictions %s: %w", folderOrFile, cause(err))
	}
	var c checker
	if !info.IsDir() {
		if f.Key == "" {
			c.fail("$.key", "missing: %s is one file for all recordings: which column names the recording?", folderOrFile)
		}
		root, format.Paths = filepath.Dir(folderOrFile), []string{filepath.Base(folderOrFile)}
	}
	paths, fields := c.paths(s.Layout)
	rule := c.format(&format, fields)
	if err := f.document.Errors(c.errs); err != nil {
		return nil, err
	}
	rule.Optional = true // the caller lists recordings without segmentation
	dir, err := openFolder(root, s.folder.follow)
	if err != nil {
		return nil, fmt.Errorf("predictions in %s: %w", root, err)
	}
	p := &Predictions{references: newReferences(&rule, dir), rate: f.Rate, file: map[string]string{}, Points: !TraitsOf(f.Kind).Durations}
	if err := p.find(s.listed(), paths, f.Text); err != nil {
		dir.close()
		return nil, fmt.Errorf("predictions in %s: %w", folderOrFile, err)
	}
	return p, nil
}

// Close releases the folder of the predictions.
func (p *Predictions) Close() error { return p.references.folder.close() }

// find finds the segmentation of each recording and computes the digest.
func (p *Predictions) find(recordings []pcg.Recording, paths *pathReader, format []byte) error {
	l, err := p.references.folder.list()
	if err != nil {
		return err
	}
	found, defects := p.references.find(recordings, paths, l, nil)
	defects = append(l.defects, defects...)
	sortDefects(defects)
	p.Warnings = l.warnings
	fatal := []Kind{annotationUnused.kind, annotationColumn.kind, annotationWidth.kind, annotationsMissing.kind, annotationsUnreadable.kind}
	const most = 5 // warnings of one kind
	told := map[Kind]int{}
	for i := range defects {
		d := &defects[i]
		if slices.Contains(fatal, d.Kind) {
			return fmt.Errorf("%s: %s", d.Place(), d.Message)
		}
		if told[d.Kind]++; told[d.Kind] <= most {
			p.Warnings = append(p.Warnings, d.String())
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(told)) {
		if more := told[kind] - most; more > 0 {
			p.Warnings = append(p.Warnings, fmt.Sprintf("%s: %d more of these", kind, more))
		}
	}
	var files []string
	for i, file := range found {
		if file != "" {
			p.file[recordings[i].ID] = file
			files = append(files, file)
		}
	}
	if len(files) == 0 {
		return errors.New("no file belongs to a recording: see paths, key and match in the format")
	}
	slices.Sort(files)
	h := sha256.New()
	h.Write(format)
	for _, name := range slices.Compact(files) {
		fmt.Fprintf(h, "\n%q\n", name)
		if err := p.references.folder.copyTo(h, name); err != nil {
			return err
		}
	}
	p.Digest = fmt.Sprintf("%x", h.Sum(nil))
	return nil
}

// Of reads, checks and repairs the segmentation of a recording of the set, whose
// audio has the given rate in hertz and length.
// The error wraps ErrNoPrediction if there is none; else it says by file and line
// why the segmentation cannot be used.
func (p *Predictions) Of(rec *pcg.Recording, rate int, length time.Duration) (Prediction, error) {
	file, ok := p.file[rec.ID]
	if !ok {
		return Prediction{}, ErrNoPrediction
	}
	if p.rate > 0 {
		rate = p.rate
	}
	ref, defects, _ := p.references.read(annotated{rec.ID, file, rate, length})
	return usable(ref, defects)
}

// Prediction is what another program says of a recording: intervals, or points where
// it gives no durations.
type Prediction struct {
	Intervals []pcg.Interval
	Points    []pcg.Point
	Repairs   []string
}

// usable returns a segmentation that no defect excludes.
func usable(ref pcg.Reference, defects []Defect) (Prediction, error) {
	if d := excluded(defects); d != nil {
		return Prediction{}, fmt.Errorf("prediction unusable: %s: %s", d.Place(), d.Message)
	}
	return Prediction{ref.Intervals, ref.Points, ref.Repairs}, nil
}

// Row is one interval of a segmentation in the table of another program.
type Row struct {
	Number     int // of the row in its file, from 1
	Start, End time.Duration
	State      string // as pcg.ParseState reads it
}

// RepairRows checks and repairs the rows of one recording of that length, as those
// of a text file. Points are the starts of the rows.
func RepairRows(file string, rows []Row, points bool, length time.Duration) (Prediction, error) {
	p := repairer{file: file, length: length}
	if most := MaxRows(length); len(rows) > most {
		p.found(rowsTooMany, rows[most].Number, most, lengthInWords(length))
		return usable(pcg.Reference{}, p.defects)
	}
	list := make([]row, len(rows))
	for i, r := range rows {
		state, err := pcg.ParseState(r.State)
		list[i] = row{line: r.Number, start: r.Start, end: r.End, code: r.State, state: state, known: err == nil}
	}
	var ref pcg.Reference
	if points {
		ref.Points = p.points(list)
	} else {
		ref.Intervals = p.intervals(list)
	}
	p.finish(&ref, "")
	return usable(ref, p.defects)
}
