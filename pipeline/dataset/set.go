package dataset

import (
	"cmp"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
)

// Set is a data set on disk: its recordings, and what is wrong with it.
type Set struct {
	Root   string
	Layout *Layout

	// Recordings are sorted by ID. All have the same labels in the same order.
	Recordings []pcg.Recording

	// Defects are those of the collection and its tables, sorted by file and
	// line. Scan adds those of each annotation and audio file.
	Defects []Defect

	// Warnings are what a user of the data has to be told beside any result.
	Warnings []string

	// PersonUnknown counts the recordings of which no person is known; each
	// counts as a person of its own.
	PersonUnknown int

	program  *program
	dir      *os.Root
	files    []string // every regular file below the root, sorted
	others   []string // what is neither file nor folder that was looked into, sorted
	unlisted []string // folders that were not looked into
	field    fields   // of the recording asked for last
	tables   map[tableID]*table
	words    words                  // of the tables
	shared   map[string]*annotation // by recording, where the reference is one table
	orphans  []string               // annotations without recording
}

// Open lists the recordings below root as the layout describes them and reads
// its tables, but neither audio nor, unless all of it stands in one table, the
// reference annotation. Flaws of the data become Defects; an error means that
// the folder cannot be read or holds no recording.
//
// The methods of a Set may be called from several goroutines at once. Close
// releases the folder.
func Open(root string, l *Layout) (*Set, error) {
	program, err := l.compile()
	if err != nil {
		return nil, fmt.Errorf("layout %s: %w", l.Name, err)
	}
	dir, err := os.OpenRoot(root)
	if err != nil {
		return nil, fmt.Errorf("data set %s: data root %s: %w; give the folder of the recordings with --data", l.Name, root, cause(err))
	}
	s := &Set{Root: root, Layout: l, program: program, dir: dir, tables: map[tableID]*table{}, words: newWords()}
	if err := s.read(); err != nil {
		dir.Close()
		return nil, fmt.Errorf("data set %s: %w", l.Name, err)
	}
	return s, nil
}

// Close releases the data root. Reference and Scan fail afterwards.
func (s *Set) Close() error { return s.dir.Close() }

func (s *Set) read() error {
	if err := s.walk(); err != nil {
		return err
	}
	if err := s.listRecordings(); err != nil {
		return err
	}
	s.joinTables()
	s.namePeople()
	s.findReferences()
	sortDefects(s.Defects)
	s.forget()
	return nil
}

// forget frees what only listing needs.
func (s *Set) forget() {
	s.files, s.others, s.unlisted, s.tables, s.words, s.field = nil, nil, nil, nil, words{}, fields{}
}

func (s *Set) report(d Defect) { s.Defects = append(s.Defects, d) }

func (s *Set) listRecordings() error {
	excluded := make([]int, len(s.Layout.Audio.Exclude))
	var stray []string
	for _, file := range s.files {
		wav := strings.EqualFold(path.Ext(file), ".wav")
		if i := s.exclusion(file); i >= 0 {
			if wav {
				excluded[i]++
			}
		} else if s.included(file) {
			s.addRecording(file)
		} else if wav {
			stray = append(stray, file)
		}
	}
	for _, other := range s.others {
		if s.included(other) && s.exclusion(other) < 0 {
			s.addRecording(other)
		}
	}
	if len(s.Recordings) == 0 {
		return s.noRecordings()
	}
	for i, n := range excluded {
		if n > 0 {
			e := s.Layout.Audio.Exclude[i]
			s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files in %s left out: %s", n, e.Path, e.Reason))
		}
	}
	if len(stray) > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files are not recordings of this layout, the first %s", len(stray), Printable(stray[0])))
	}
	s.Recordings = slices.Clone(s.Recordings) // in as much memory as they need
	s.sortRecordings()
	return nil
}

func (s *Set) included(file string) bool {
	return slices.ContainsFunc(s.Layout.Audio.Include, func(p string) bool { return matchPattern(p, file) })
}

// exclusion returns which exclusion a file falls under, or −1.
func (s *Set) exclusion(file string) int {
	return slices.IndexFunc(s.Layout.Audio.Exclude, func(e Exclusion) bool { return matchPattern(e.Path, file) })
}

// fields are what the path of a recording tells, by the names that templates
// use. They are read from the path whenever they are wanted: kept for every
// recording, they would take more memory than all else that is known of it.
type fields struct {
	of     string // the path
	values map[string]string
	known  bool // whether the path fits a pattern of the layout
}

// fieldsOf reads the path of an audio file. The map is valid until the next
// call.
func (s *Set) fieldsOf(file string) (values map[string]string, known bool) {
	f := &s.field
	if f.of == file {
		return f.values, f.known
	}
	if f.values == nil {
		f.values = map[string]string{}
	}
	clear(f.values)
	stem := strings.TrimSuffix(path.Base(file), path.Ext(file))
	f.of, f.known = file, false
	f.values["path"], f.values["stem"] = file, stem
	if d := path.Dir(file); d != "." {
		f.values["dir"] = d
	}
	for _, re := range s.program.names {
		m := re.FindStringSubmatch(file)
		if m == nil {
			continue
		}
		f.known = true
		for i, g := range re.SubexpNames() {
			if g != "" {
				f.values[g] = m[i]
			}
		}
		break
	}
	if f.values["id"] == "" {
		f.values["id"] = stem
	}
	return f.values, f.known
}

// fieldsAt returns what templates may use of recording i, of which tables may
// have overruled what its name says.
func (s *Set) fieldsAt(i int) map[string]string {
	rec := &s.Recordings[i]
	f, _ := s.fieldsOf(rec.Audio)
	f["person"], f["site"] = rec.Person, rec.Site
	return f
}

// addRecording reads the name of an audio file.
func (s *Set) addRecording(file string) {
	field, known := s.fieldsOf(file)
	rec := pcg.Recording{ID: Printable(field["id"]), Source: s.Layout.Name, Person: Printable(field["person"]), Site: Printable(field["site"]),
		Take: 1, Audio: file}
	if !known {
		s.report(Defect{File: file, Kind: KindName, Recording: rec.ID, Message: "the name fits no pattern of the layout",
			Action: "person and site are unknown"})
	}
	if take := field["take"]; take != "" {
		n, err := strconv.Atoi(take)
		if err != nil || n < 1 {
			s.report(Defect{File: file, Kind: KindName, Recording: rec.ID, Message: fmt.Sprintf("take %q is not a number from 1", take),
				Action: "taken for the first"})
			n = 1
		}
		rec.Take = n
	}
	s.Recordings = append(s.Recordings, rec)
}

// sortRecordings sorts by id. Of recordings with one id the first by path has
// it, and each other, which may be a copy of it, has its path as id and is not
// used.
func (s *Set) sortRecordings() {
	byID := func(a, b pcg.Recording) int {
		return cmp.Or(strings.Compare(a.ID, b.ID), strings.Compare(a.Audio, b.Audio))
	}
	slices.SortFunc(s.Recordings, byID)
	repeated := false
	for first, i := 0, 1; i < len(s.Recordings); i++ {
		rec, owner := &s.Recordings[i], &s.Recordings[first]
		if rec.ID != owner.ID {
			first = i
			continue
		}
		repeated = true
		rec.Unusable = fmt.Sprintf("%s: id %s is already that of %s: rename one of the two, or remove the copy",
			Printable(rec.Audio), rec.ID, Printable(owner.Audio))
		s.report(Defect{File: rec.Audio, Kind: KindDuplicateID, Recording: rec.ID,
			Message: fmt.Sprintf("id %s is already that of %s", rec.ID, Printable(owner.Audio)), Action: "left out: rename one of the two"})
		rec.ID = fmt.Sprintf("%s (%s)", rec.ID, Printable(rec.Audio))
	}
	if repeated {
		slices.SortFunc(s.Recordings, byID)
	}
}

// noRecordings explains why nothing was found; most often the data root is one
// folder too high or too low.
func (s *Set) noRecordings() error {
	include := s.Layout.Audio.Include
	base := filepath.Base(s.Root)
	if abs, err := filepath.Abs(s.Root); err == nil {
		base = filepath.Base(abs)
	}
	for _, file := range s.files {
		for _, p := range include {
			if matchPattern(p, base+"/"+file) {
				return fmt.Errorf("no recording below %s: give the folder that contains it as data root", s.Root)
			}
			for i := range file {
				if file[i] == '/' && matchPattern(p, file[i+1:]) {
					return fmt.Errorf("no recording below %s: give %s as data root", s.Root, filepath.Join(s.Root, filepath.FromSlash(file[:i])))
				}
			}
		}
	}
	return fmt.Errorf("no recording below %s: none of %d files matches %s; %s",
		s.Root, len(s.files), strings.Join(include, " or "), "see the layout's source for where to get the data")
}

// namePeople fills in the people of whom nothing is known.
func (s *Set) namePeople() {
	for i := range s.Recordings {
		if s.Recordings[i].Person == "" {
			s.Recordings[i].Person = s.Recordings[i].ID
			s.PersonUnknown++
		}
	}
	if s.PersonUnknown > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf(
			"the person of %d of %d recordings is unknown: each counts as a person of its own, so a split by person may put one person on both sides, and intervals of confidence over people may be too narrow",
			s.PersonUnknown, len(s.Recordings)))
	}
}

// find returns which regular file below the root a template names for recording
// i.
func (s *Set) find(template string, i int) (at int, ok bool) {
	p, ok := expandPath(template, s.fieldsAt(i))
	if !ok {
		return 0, false
	}
	return slices.BinarySearch(s.files, p)
}
