package dataset

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"phonocycle/pipeline/pcg"
)

// findReferences fills in where the reference of each recording lies, and
// looks for references of which there is no recording.
func (s *Set) findReferences() {
	p := &s.program.reference
	switch {
	case p.Kind == pcg.NoReference:
	case p.Key != "":
		s.readShared(p.Paths[0])
	default:
		claimed := make([]bool, len(s.files))
		for i := range s.Recordings {
			s.findReference(i, claimed)
		}
		s.findOrphans(claimed)
	}
	if p.Kind == pcg.NoReference || p.Optional {
		return
	}
	for i := range s.Recordings {
		if rec := &s.Recordings[i]; rec.Reference == "" && rec.Unusable == "" {
			s.report(Defect{File: rec.Audio, Kind: KindAnnotationMissing, Recording: rec.ID,
				Message: fmt.Sprintf("recording %s has no annotation", rec.ID), Action: "not scored"})
		}
	}
}

// findReference looks where the layout says for the file of recording i.
func (s *Set) findReference(i int, claimed []bool) {
	rec := &s.Recordings[i]
	for _, template := range s.program.reference.Paths {
		at, ok := s.find(template, i)
		if !ok {
			continue
		}
		file := s.files[at]
		if file == rec.Audio || s.isTable(file) {
			continue
		}
		claimed[at] = true
		if rec.Unusable != "" {
			continue
		}
		if rec.Reference == "" {
			rec.Reference = file
			continue
		}
		s.report(Defect{File: file, Kind: KindSecondReference, Recording: rec.ID,
			Message: fmt.Sprintf("recording %s already has the annotation %s", rec.ID, rec.Reference), Action: "not read"})
	}
}

func (s *Set) isTable(file string) bool {
	for n := range s.program.tables {
		if s.tables[tableID{n, file}] != nil {
			return true
		}
	}
	return false
}

// findOrphans reports files that stand where annotations stand and belong to
// no recording: those the path templates match with any name in them, {dir}
// being a folder that holds recordings.
func (s *Set) findOrphans(claimed []bool) {
	dirs := map[string]bool{}
	for i := range s.Recordings {
		dirs[path.Dir(s.Recordings[i].Audio)] = true
	}
	for at, file := range s.files {
		if claimed[at] || s.isTable(file) {
			continue
		}
		if slices.ContainsFunc(s.program.reference.Paths, func(t string) bool { return standsLike(t, file, dirs) }) {
			s.orphans = append(s.orphans, file)
			s.report(Defect{File: file, Kind: KindRecordingMissing,
				Message: "annotation of which there is no recording", Action: "not used"})
		}
	}
}

// standsLike reports whether a file could be what template names.
func standsLike(template, file string, dirs map[string]bool) bool {
	if rest, ok := strings.CutPrefix(template, "{dir}/"); ok {
		if dir := path.Dir(file); !dirs[dir] {
			return false
		}
		return matchPattern(placeholder.ReplaceAllString(rest, "*"), path.Base(file))
	}
	return matchPattern(placeholder.ReplaceAllString(template, "*"), file)
}

// readShared reads the one table that holds the annotations of all recordings.
func (s *Set) readShared(file string) {
	p := &s.program.reference
	if !s.isFile(file) {
		if !p.Optional {
			s.report(Defect{File: file, Kind: KindTableMissing, Message: "the table of annotations is not there", Action: "nothing is scored"})
		}
		return
	}
	f, err := s.open(file)
	if err != nil {
		s.report(Defect{File: file, Kind: KindText, Message: err.Error(), Action: "nothing is scored"})
		return
	}
	defer f.Close()

	shared := sharedReader{
		set:    s,
		reader: annotationReader{program: p, file: file, key: -1},
		byKey:  map[string]int{},
		strays: map[string]bool{},
	}
	for i := range s.Recordings {
		if key, ok := expand(p.Match, s.fieldsAt(i)); ok && s.Recordings[i].Unusable == "" {
			shared.byKey[key] = i
		}
	}
	s.shared = map[string]*annotation{}
	ends, err := readLines(f, delimiterOf(p.Delimiter, file), shared.line)
	if errors.Is(err, errStop) {
		err = nil // reported where it arose
	}
	for _, d := range textDefects(file, ends, err) {
		if s.report(d); d.Excludes {
			s.excludeShared(d)
		}
	}
}

// excludeShared makes the references of all recordings unusable after a flaw
// of the text, because nobody knows what the unread rest says of them.
func (s *Set) excludeShared(d Defect) {
	for _, a := range s.shared {
		d.Message += " (the table was not read to its end)"
		a.defects = append(a.defects, d)
	}
}

// sharedReader hands the rows of one table to the annotations of recordings.
type sharedReader struct {
	set    *Set
	reader annotationReader
	byKey  map[string]int
	strays map[string]bool // keys reported already
}

func (r *sharedReader) line(n int, fields []string) error {
	s, p := r.set, r.reader.program
	if r.reader.columns == nil {
		header, d := r.reader.findColumns(n, fields)
		if d != nil {
			d.Action, d.Excludes = "nothing is scored", false
			s.report(*d)
			return errStop
		}
		if header {
			return nil
		}
	}
	if r.reader.key >= len(fields) {
		s.report(Defect{File: r.reader.file, Line: n, Kind: KindColumns,
			Message: fmt.Sprintf("%d columns where %d belong, and no name of a recording", len(fields), r.reader.width), Action: "row not used"})
		return nil
	}
	cell := fields[r.reader.key]
	key := cell
	if p.key != nil {
		key = ""
		if m := p.key.FindStringSubmatch(cell); m != nil {
			key = m[p.key.SubexpIndex("key")]
		}
	}
	i, ok := r.byKey[key]
	if !ok {
		if !r.strays[cell] {
			r.strays[cell] = true
			s.report(Defect{File: r.reader.file, Line: n, Kind: KindRecordingMissing,
				Message: fmt.Sprintf("annotation of %q, of which there is no recording", shorten(cell)), Action: "not used"})
		}
		return nil
	}
	rec := &s.Recordings[i]
	a := s.shared[rec.ID]
	if a == nil {
		a = &annotation{file: r.reader.file}
		s.shared[rec.ID] = a
		rec.Reference = r.reader.file
	}
	r.reader.add(a, n, fields)
	return nil
}
