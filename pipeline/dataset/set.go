package dataset

import (
	"errors"
	"fmt"
	"io/fs"
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

	program *program
	dir     *os.Root
	files   map[string]bool // every regular file below the root
	fields  []map[string]string
	tables  map[tableID]*table
	shared  map[string]*annotation // by recording, where the reference is one table
	orphans []string               // annotations without recording
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
		return nil, fmt.Errorf("data set %s: open data root: %w", l.Name, err)
	}
	s := &Set{Root: root, Layout: l, program: program, dir: dir, files: map[string]bool{}, tables: map[tableID]*table{}}
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
	return nil
}

func (s *Set) report(d Defect) { s.Defects = append(s.Defects, d) }

// walk lists the files below the root. Names that begin with a dot are the
// file system's own and are passed over.
func (s *Set) walk() error {
	return fs.WalkDir(s.dir.FS(), ".", func(name string, entry fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return fmt.Errorf("list %s: %w", filepath.Join(s.Root, filepath.FromSlash(name)), err)
		case name != "." && strings.HasPrefix(entry.Name(), "."):
			if entry.IsDir() {
				return fs.SkipDir
			}
		case entry.Type().IsRegular():
			s.files[name] = true
		case entry.Type()&fs.ModeSymlink != 0:
			s.followLink(name)
		}
		return nil
	})
}

func (s *Set) followLink(name string) {
	info, err := s.dir.Stat(filepath.FromSlash(name))
	switch {
	case err != nil:
		s.report(Defect{File: name, Kind: KindOutside, Message: "symbolic link that leads out of the data root, or nowhere",
			Action: "not read: put the file itself there, or a relative link to a file below the root"})
	case info.IsDir():
		s.report(Defect{File: name, Kind: KindLinkedFolder, Message: "symbolic link to a folder", Action: "not followed"})
	case info.Mode().IsRegular():
		s.files[name] = true
	}
}

// sortedFiles returns every file below the root in the order of its path.
func (s *Set) sortedFiles() []string {
	names := make([]string, 0, len(s.files))
	for name := range s.files {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

func (s *Set) listRecordings() error {
	excluded := make([]int, len(s.Layout.Audio.Exclude))
	var stray []string
	files := s.sortedFiles()
	for _, file := range files {
		if i := slices.IndexFunc(s.Layout.Audio.Exclude, func(e Exclusion) bool { return matchPattern(e.Path, file) }); i >= 0 {
			if strings.EqualFold(path.Ext(file), ".wav") {
				excluded[i]++
			}
			continue
		}
		if slices.ContainsFunc(s.Layout.Audio.Include, func(p string) bool { return matchPattern(p, file) }) {
			s.addRecording(file)
		} else if strings.EqualFold(path.Ext(file), ".wav") {
			stray = append(stray, file)
		}
	}
	if len(s.Recordings) == 0 {
		return s.noRecordings(files)
	}
	for i, n := range excluded {
		if n > 0 {
			e := s.Layout.Audio.Exclude[i]
			s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files in %s left out: %s", n, e.Path, e.Reason))
		}
	}
	if len(stray) > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files are not recordings of this layout, the first %s", len(stray), stray[0]))
	}
	s.sortRecordings()
	return nil
}

// addRecording reads the name of an audio file.
func (s *Set) addRecording(file string) {
	stem := strings.TrimSuffix(path.Base(file), path.Ext(file))
	field := map[string]string{"path": file, "stem": stem}
	if d := path.Dir(file); d != "." {
		field["dir"] = d
	}
	understood := false
	for _, re := range s.program.names {
		m := re.FindStringSubmatch(file)
		if m == nil {
			continue
		}
		understood = true
		for i, g := range re.SubexpNames() {
			if g != "" {
				field[g] = m[i]
			}
		}
		break
	}
	if field["id"] == "" {
		field["id"] = stem
	}
	rec := pcg.Recording{ID: field["id"], Source: s.Layout.Name, Person: field["person"], Site: field["site"], Take: 1, Audio: file}
	if !understood {
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
	s.fields = append(s.fields, field)
}

// sortRecordings sorts by id and leaves out what has an id a second time.
func (s *Set) sortRecordings() {
	order := make([]int, len(s.Recordings))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return strings.Compare(s.Recordings[a].ID, s.Recordings[b].ID) })
	recordings := make([]pcg.Recording, 0, len(order))
	fields := make([]map[string]string, 0, len(order))
	for _, i := range order {
		rec := s.Recordings[i]
		if n := len(recordings); n > 0 && recordings[n-1].ID == rec.ID {
			s.report(Defect{File: rec.Audio, Kind: KindDuplicateID, Recording: rec.ID,
				Message: fmt.Sprintf("id %s is already that of %s", rec.ID, recordings[n-1].Audio),
				Action:  "left out: rename one of the two"})
			continue
		}
		recordings, fields = append(recordings, rec), append(fields, s.fields[i])
	}
	s.Recordings, s.fields = recordings, fields
}

// noRecordings explains why nothing was found; most often the data root is one
// folder too high or too low.
func (s *Set) noRecordings(files []string) error {
	include := s.Layout.Audio.Include
	base := filepath.Base(s.Root)
	if abs, err := filepath.Abs(s.Root); err == nil {
		base = filepath.Base(abs)
	}
	for _, file := range files {
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
		s.Root, len(files), strings.Join(include, " or "), "see the layout's source for where to get the data")
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

// field returns what templates may use of recording i, which tables may have
// overruled since its name was read.
func (s *Set) field(i int) map[string]string {
	f, rec := s.fields[i], &s.Recordings[i]
	f["person"], f["site"] = rec.Person, rec.Site
	return f
}

// find returns the path of a regular file below the root that a template
// names for recording i.
func (s *Set) find(template string, i int) (string, bool) {
	p, ok := expandPath(template, s.field(i))
	return p, ok && s.files[p]
}

// open opens a file that lies below the root, also after following links.
func (s *Set) open(name string) (*os.File, error) {
	f, err := s.dir.Open(filepath.FromSlash(name))
	if err != nil {
		var pathErr *fs.PathError
		if errors.As(err, &pathErr) {
			err = pathErr.Err
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return f, nil
}
