package dataset

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// references are the reference annotations below a folder, as one rule of a
// layout describes them: one file per recording, or one table for all.
type references struct {
	rule    *compiledReference
	folder  *folder
	reader  referenceReader
	table   *annotationTable // nil if each recording has a file of its own
	orphans []string         // files that belong to no recording
}

// referenceReader reads a kind of reference.
type referenceReader struct {
	// inAudio says that the audio file of a recording can hold the reference too.
	inAudio bool

	// read reads the reference of one recording, and returns the digest of all files
	// that it is made from.
	read func(r *references, of annotated) (pcg.Reference, []Defect, string)

	// digest returns that digest alone.
	digest func(r *references, file string) (string, error)
}

// annotationTable is one table with the annotations of all recordings.
type annotationTable struct {
	columns *annotationColumns
	digest  string                 // SHA-256 of the file
	lines   map[string]*tableLines // by recording
	defects []Defect               // of the table as a whole
}

// maxTableDefects bounds the rows without a recording that are listed of one
// table; the others are counted.
const maxTableDefects = 10_000

// find returns the file of the annotation of each recording, empty where there
// is none, and the defects of the collection. A file in skip is no annotation.
func (r *references) find(recordings []pcg.Recording, paths *pathReader, l *listing, skip map[string]bool) ([]string, []Defect) {
	files := make([]string, len(recordings))
	var defects []Defect
	switch {
	case r.rule.Kind == pcg.NoReference:
		return files, nil
	case r.rule.Key != "":
		defects = r.readTable(recordings, paths, l, files)
	default:
		defects = r.findFiles(recordings, paths, l, skip, files)
	}
	if r.rule.Optional {
		return files, defects
	}
	for i := range recordings {
		if rec := &recordings[i]; files[i] == "" && rec.Unusable == "" {
			defects = append(defects, annotationMissing.at(rec.Audio, 0, rec.ID).of(rec.ID))
		}
	}
	return files, defects
}

// findFiles finds the file of each recording, and files that stand where
// annotations stand but belong to no recording.
func (r *references) findFiles(recordings []pcg.Recording, paths *pathReader, l *listing, skip map[string]bool, files []string) []Defect {
	var defects []Defect
	used := make([]bool, len(l.files))
	dirs := map[string]bool{}
	for i := range recordings {
		rec := &recordings[i]
		dirs[path.Dir(rec.Audio)] = true
		for _, template := range r.rule.Paths {
			file, ok := expandPath(template, paths.of(rec))
			at, exists := l.find(file)
			if !ok || !exists || file == rec.Audio && !r.reader.inAudio || skip[file] {
				continue
			}
			if at >= 0 {
				used[at], file = true, l.files[at]
			}
			switch {
			case rec.Unusable != "":
			case files[i] == "":
				files[i] = file
			default:
				defects = append(defects, annotationSecond.at(file, 0, rec.ID, files[i]).of(rec.ID))
			}
		}
	}
	for at, file := range l.files {
		looksLike := func(template string) bool { return couldName(template, file, dirs) }
		if !used[at] && !skip[file] && slices.ContainsFunc(r.rule.Paths, looksLike) {
			r.orphans = append(r.orphans, file)
			defects = append(defects, annotationUnused.at(file, 0))
		}
	}
	return defects
}

// couldName reports whether a template names a file for some values of its
// fields, where {dir} is one of the folders with recordings.
func couldName(template, file string, dirs map[string]bool) bool {
	if rest, ok := strings.CutPrefix(template, "{dir}/"); ok {
		return dirs[path.Dir(file)] && matchPattern(placeholder.ReplaceAllString(rest, "*"), path.Base(file))
	}
	return matchPattern(placeholder.ReplaceAllString(template, "*"), file)
}

// readTable reads the one table of all annotations and sets the file of each
// recording in it.
func (r *references) readTable(recordings []pcg.Recording, paths *pathReader, l *listing, files []string) []Defect {
	file := r.rule.Paths[0]
	if _, ok := l.find(file); !ok {
		if r.rule.Optional {
			return nil
		}
		return []Defect{annotationsMissing.at(file, 0)}
	}
	f, err := r.folder.openFile(file)
	if err != nil {
		return []Defect{annotationsUnreadable.at(file, 0, err)}
	}
	defer f.Close()

	byKey := map[string]int{}
	for i := range recordings {
		if key, ok := expand(r.rule.Match, paths.of(&recordings[i])); ok && recordings[i].Unusable == "" {
			byKey[key] = i
		}
	}
	var defects []Defect
	unlisted := 0
	found := func(d Defect) {
		if len(defects) < maxTableDefects {
			defects = append(defects, d)
		} else {
			unlisted++
		}
	}
	unknown := map[string]bool{} // keys of no recording
	a := annotationReader{rule: r.rule, file: file}
	t := &annotationTable{lines: map[string]*tableLines{}}
	ends, err := readLines(f, delimiterOf(r.rule.Delimiter, file), func(number int, fields []string) error {
		if header, err := a.isHeader(number, fields); header || err != nil {
			return err
		}
		if a.columns.key >= len(fields) {
			found(keyColumnMissing.at(file, number, len(fields), a.columns.width))
			return nil
		}
		cell := fields[a.columns.key]
		key, _ := r.rule.key.of(cell)
		i, ok := byKey[key]
		if !ok {
			if !unknown[cell] {
				if len(unknown) < maxTableDefects {
					unknown[cell] = true
				}
				found(annotationRowsUnused.at(file, number, shorten(cell)))
			}
			return nil
		}
		files[i] = file
		id := recordings[i].ID
		if t.lines[id] == nil {
			t.lines[id] = &tableLines{}
		}
		t.lines[id].add(number, fields)
		return nil
	})
	if unlisted > 0 {
		defects = append(defects, rowsUnlisted.at(file, 0, unlisted))
	}
	for _, d := range a.defects {
		d.Action, d.Excludes = annotationsUnreadable.action, false
		defects = append(defects, d)
	}
	defects = append(defects, textDefects(file, ends, err, annotationUnreadable)...)
	r.table, t.columns, t.digest = t, a.columns, digestOf(f)
	// The unread rest may hold more rows of any recording.
	t.defects = slices.DeleteFunc(textDefects(file, ends, err, annotationTableCut), func(d Defect) bool { return !d.Excludes })
	return defects
}

// annotated is a recording with the file of its annotation.
type annotated struct {
	recording, file string
	rate            int           // of the recording in hertz; 0 if unknown
	length          time.Duration // of the recording; 0 if unknown
}

// read reads, checks and repairs the annotation of a recording. The reference can
// be used only if no defect excludes it. The digest is that of all files that it is
// made from, empty if one cannot be opened.
func (r *references) read(of annotated) (ref pcg.Reference, defects []Defect, digest string) {
	ref, defects, digest = r.reader.read(r, of)
	ref.Kind = r.rule.Kind
	return ref, defects, digest
}

// readRows reads an annotation that is written in rows.
func (r *references) readRows(of annotated) (ref pcg.Reference, defects []Defect, digest string) {
	a := annotationReader{rule: r.rule, file: of.file, rate: of.rate, length: of.length}
	if r.rule.Key != "" {
		if r.table != nil {
			a.columns, a.defects, digest = r.table.columns, slices.Clone(r.table.defects), r.table.digest
			if lines := r.table.lines[of.recording]; lines != nil {
				lines.read(&a)
			}
		}
		ref, defects = a.reference(of.recording)
		return ref, defects, digest
	}
	f, err := r.folder.openFile(of.file)
	if err != nil {
		return pcg.Reference{}, []Defect{annotationUnreadable.at(of.file, 0, err).of(of.recording)}, ""
	}
	defer f.Close()
	if isMatlab(of.file) {
		a.readMatlab(f)
	} else {
		a.read(f)
	}
	ref, defects = a.reference(of.recording)
	return ref, defects, digestOf(f)
}

// digestOfFile returns the digest of the one file of an annotation. A table of all
// annotations counts as it was when it was read.
func (r *references) digestOfFile(file string) (string, error) {
	if r.table != nil {
		return r.table.digest, nil
	}
	f, err := r.folder.openFile(file)
	if err != nil {
		return "", fmt.Errorf("%s: %w", Printable(file), err)
	}
	defer f.Close()
	return f.Digest()
}

// digestOf returns the digest of a file, or the empty string if it cannot be read
// to its end.
func digestOf(f *File) string {
	digest, err := f.Digest()
	if err != nil {
		return ""
	}
	return digest
}
