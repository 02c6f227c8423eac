package dataset

import (
	"errors"
	"fmt"
	"time"

	"phonocycle/pipeline/pcg"
)

// ErrNoReference says that the data set has no annotation of a recording.
var ErrNoReference = errors.New("no reference annotation")

// ErrUnusable says that the annotation of a recording cannot be used; the
// error around it says where and why.
var ErrUnusable = errors.New("reference annotation unusable")

// Reference reads, checks and mends the reference annotation of a recording
// of s. The rate of its audio in hertz is needed where annotations are in
// samples; its length cuts what lies past the end, and zero means that it is
// unknown. The package comment says what is mended.
//
// The error wraps ErrNoReference where there is none, and ErrUnusable with file
// and line where it has a flaw that can be read in more than one way.
func (s *Set) Reference(rec *pcg.Recording, rate int, length time.Duration) (pcg.Reference, error) {
	if rec.Reference == "" {
		return pcg.Reference{}, fmt.Errorf("recording %s: %w", rec.ID, ErrNoReference)
	}
	ref, defects := s.examine(rec, rate, length)
	for i := range defects {
		if d := &defects[i]; d.Excludes {
			return pcg.Reference{}, fmt.Errorf("recording %s: %w: %s: %s", rec.ID, ErrUnusable, d.Place(), d.Message)
		}
	}
	return ref, nil
}

// examine reads and mends the reference of rec, and describes every flaw met.
// The reference is of use only if no defect excludes it.
func (s *Set) examine(rec *pcg.Recording, rate int, length time.Duration) (pcg.Reference, []Defect) {
	p := &s.program.reference
	a := s.shared[rec.ID]
	if p.Key == "" {
		f, err := s.open(rec.Reference)
		if err != nil {
			return pcg.Reference{}, []Defect{{File: rec.Reference, Kind: KindText, Recording: rec.ID, Message: err.Error(),
				Action: "not scored", Excludes: true}}
		}
		defer f.Close()
		a = p.readAnnotation(rec.Reference, f)
	}
	if a == nil {
		a = &annotation{file: rec.Reference}
	}
	m := mender{file: a.file, length: length}
	m.defects = append(m.defects, a.defects...)
	ref := m.settle(m.mend(p, a.entries, rate), rec.ID)
	return ref, m.defects
}

// settle sorts the defects, says of which recording they are and enters what was
// mended into the reference.
func (m *mender) settle(ref pcg.Reference, recording string) pcg.Reference {
	sortDefects(m.defects)
	for i := range m.defects {
		d := &m.defects[i]
		d.Recording = recording
		if d.Excludes {
			d.Action = "not scored"
		}
		if d.mends {
			ref.Repairs = append(ref.Repairs, d.String())
		}
	}
	return ref
}

// ReferenceDefects describes every flaw of the reference annotation of a
// recording of s, in the order of its lines, but for those that show only against
// the audio.
func (s *Set) ReferenceDefects(rec *pcg.Recording) []Defect {
	const anyRate = 1000 // in hertz: the order of rows does not depend on it
	_, defects := s.examine(rec, anyRate, 0)
	return defects
}
