package dataset

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
)

// Set is a data set on disk: its recordings, and what is wrong with it.
type Set struct {
	Root   string
	Layout *Layout

	// Recordings are sorted by ID. All have the same labels in the same order.
	Recordings []pcg.Recording

	// Defects of the collection and its tables, sorted by file and line. Scan adds
	// those of each annotation and audio file.
	Defects []Defect

	// TableFaults are the label tables that are missing or could not be read as the
	// layout says, in the order of the layout.
	TableFaults []TableFault

	// Warnings belong beside any result from the data set.
	Warnings []string

	// PersonUnknown counts the recordings whose person is unknown; each counts as
	// a person of its own.
	PersonUnknown int
	// NotSelected counts the recordings that Select left out, and DefectsOfOthers
	// the defects of these.
	NotSelected, DefectsOfOthers int

	// ReferenceName and ReferenceKind are those of the reference that is read, empty
	// where the layout has none.
	ReferenceName string
	ReferenceKind pcg.ReferenceKind

	// ReferenceDelay is the time from the R waves of an ECG to the S1 of the reference,
	// zero where it is of another kind.
	ReferenceDelay time.Duration

	// Copy is the record of a copy with changed audio; nil for other data sets.
	Copy *Copy

	folder     *folder
	tables     []string        // paths of the label tables
	united     people          // names of people that are the same
	all        []pcg.Recording // before Select; nil where nothing was selected
	references references
}

// Open lists the recordings below root as the layout describes them and reads
// its tables. It reads no audio, and of the reference annotations only a table
// that holds those of all recordings. What is wrong with the data becomes a
// Defect; an error means that the folder cannot be read or has no recording.
//
// The methods of a Set may be called from several goroutines at once. Close
// releases the folder.
func Open(root string, l *Layout) (*Set, error) { return OpenWith(root, l, Options{}) }

// Options say how a data set is opened.
type Options struct {
	// Reference names the reference that is read; empty for the first of the layout.
	Reference string

	// FollowLinks follows symbolic links, also out of the root and to folders.
	FollowLinks bool
}

// OpenWith is Open with options.
func OpenWith(root string, l *Layout, o Options) (*Set, error) {
	compiled, err := l.compile()
	if err != nil {
		return nil, fmt.Errorf("layout %s: %w", l.Name, err)
	}
	reference, err := compiled.reference(o.Reference)
	if err != nil {
		return nil, fmt.Errorf("layout %s: %w", l.Name, err)
	}
	f, err := openFolder(root, o.FollowLinks)
	if err != nil {
		return nil, fmt.Errorf("data set %s: data root %s: %w; give the folder of the recordings with --data", l.Name, root, err)
	}
	s := &Set{Root: root, Layout: l, ReferenceName: reference.Name, ReferenceKind: reference.Kind, ReferenceDelay: reference.delay,
		folder: f, references: newReferences(reference, f)}
	if err := s.read(compiled); err != nil {
		f.close()
		return nil, fmt.Errorf("data set %s: %w", l.Name, err)
	}
	return s, nil
}

// Close releases the data root. No file can be read afterwards.
func (s *Set) Close() error { return s.folder.close() }

// read fills in the recordings. What only listing needs is freed on return.
func (s *Set) read(c *compiledLayout) error {
	l, err := s.folder.list()
	if err != nil {
		return err
	}
	s.Defects, s.Warnings = l.defects, l.warnings
	if s.Copy, err = readCopy(s.folder, l); err != nil {
		return err
	}
	if err := s.listRecordings(c.paths, l); err != nil {
		return err
	}
	j := joiner{set: s, listing: l, compiled: c}
	j.join()
	s.Defects = append(s.Defects, j.defects...)
	s.tables, s.united = slices.Sorted(maps.Keys(j.isTable)), j.united
	s.namePeople()
	files, defects := s.references.find(s.Recordings, c.paths, l, j.isTable)
	for i, file := range files {
		s.Recordings[i].Reference = file
	}
	s.Defects = append(s.Defects, defects...)
	sortDefects(s.Defects)
	return nil
}

func (s *Set) listRecordings(paths *pathReader, l *listing) error {
	audio := &s.Layout.Audio
	excluded := make([]int, len(audio.Exclude))
	var unmatched []string
	for _, file := range l.files {
		wav := strings.EqualFold(path.Ext(file), ".wav")
		if i := audio.exclusion(file); i >= 0 {
			if wav {
				excluded[i]++
			}
		} else if audio.includes(file) {
			s.addRecording(paths, file)
		} else if wav && !readThroughHeader(audio, l, file) {
			unmatched = append(unmatched, file)
		}
	}
	for _, other := range l.others {
		if audio.includes(other) && audio.exclusion(other) < 0 {
			s.addRecording(paths, other)
		}
	}
	if len(s.Recordings) == 0 {
		return s.noRecordings(l)
	}
	for i, n := range excluded {
		if n > 0 {
			e := audio.Exclude[i]
			s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files in %s are excluded by the layout: %s", n, e.Path, e.Reason))
		}
	}
	if len(unmatched) > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("%d WAV files match no pattern of the layout and are not read, the first is %s",
			len(unmatched), Printable(unmatched[0])))
	}
	s.Recordings = slices.Clone(s.Recordings) // without spare memory
	s.sortRecordings()
	return nil
}

// readThroughHeader reports whether a WAV file belongs to a WFDB record that is
// among the recordings, by its name.
func readThroughHeader(audio *AudioRule, l *listing, file string) bool {
	header := strings.TrimSuffix(file, path.Ext(file)) + ".hea"
	_, there := l.find(header)
	return there && audio.includes(header)
}

// addRecording adds a recording with what its path says.
func (s *Set) addRecording(paths *pathReader, file string) {
	fields, matched := paths.read(file)
	rec := pcg.Recording{ID: Printable(fields["id"]), DataSet: s.Layout.Name, Person: Printable(fields["person"]), Site: Printable(fields["site"]),
		Take: 1, Audio: file}
	if !matched {
		s.Defects = append(s.Defects, nameUnmatched.at(file, 0).of(rec.ID))
	}
	if take := fields["take"]; take != "" {
		if n, err := strconv.Atoi(take); err == nil && n > 0 {
			rec.Take = n
		} else {
			s.Defects = append(s.Defects, takeInName.at(file, 0, take).of(rec.ID))
		}
	}
	s.Recordings = append(s.Recordings, rec)
}

// sortRecordings sorts by id. Of recordings with the same id the first by path
// keeps it; the others, which may be copies, get an id with their path and are
// not used.
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
		d := idRepeated.at(rec.Audio, 0, rec.ID, Printable(owner.Audio)).of(rec.ID)
		s.Defects = append(s.Defects, d)
		rec.Unusable = d.String()
		rec.ID = fmt.Sprintf("%s (%s)", rec.ID, Printable(rec.Audio))
	}
	if repeated {
		slices.SortFunc(s.Recordings, byID)
	}
}

// noRecordings explains why no recording was found. Most often the data root is
// one folder too high or too low.
func (s *Set) noRecordings(l *listing) error {
	if n := len(l.unlinked); n > 0 {
		return fmt.Errorf("no recording below %s: %d folders there are symbolic links, the first is %s; give --follow-links to read them",
			s.Root, n, Printable(l.unlinked[0]))
	}
	include := s.Layout.Audio.Include
	base := filepath.Base(s.Root)
	if abs, err := filepath.Abs(s.Root); err == nil {
		base = filepath.Base(abs)
	}
	for _, file := range l.files {
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
	return fmt.Errorf("no recording below %s: none of %d files matches %s; the key source of the layout says where to get the data",
		s.Root, len(l.files), strings.Join(include, " or "))
}

// namePeople makes each recording without a known person a person of its own.
func (s *Set) namePeople() {
	for i := range s.Recordings {
		if s.Recordings[i].Person == "" {
			s.Recordings[i].Person, s.Recordings[i].PersonUnknown = s.Recordings[i].ID, true
			s.PersonUnknown++
		}
	}
	if s.PersonUnknown > 0 {
		s.Warnings = append(s.Warnings, fmt.Sprintf("the person of %d of %d recordings is unknown: each counts as a person of its own; "+
			"a split by person may put one person on both sides, and confidence intervals over people may be too narrow",
			s.PersonUnknown, len(s.Recordings)))
	}
}

// Sources names the files, beside the audio, in which the data set describes a
// recording: its tables and its reference annotation.
func (s *Set) Sources(rec *pcg.Recording) []string {
	files := slices.Clone(s.tables)
	if rec.Reference != "" {
		files = append(files, rec.Reference)
	}
	return files
}

// ErrNoReference says that the data set has no annotation of a recording.
var ErrNoReference = errors.New("no reference annotation")

// ErrUnusable says that the annotation of a recording cannot be used; the error
// around it says where and why.
var ErrUnusable = errors.New("reference annotation unusable")

// Reference reads, checks and repairs the reference annotation of a recording of
// s. The sampling rate in hertz is needed if annotations are in samples. What
// lies past the length is cut; 0 means that the length is unknown.
//
// The error wraps ErrNoReference if there is none, and ErrUnusable, with file and
// line, if it has a defect that can be read in more than one way.
//
// The digest is the SHA-256 of the file of the annotation, which may be that of
// all recordings. It is there even where the annotation cannot be used, and empty
// where there is no file to read.
func (s *Set) Reference(rec *pcg.Recording, rate int, length time.Duration) (ref pcg.Reference, digest string, err error) {
	if rec.Reference == "" {
		return pcg.Reference{}, "", fmt.Errorf("recording %s: %w", rec.ID, ErrNoReference)
	}
	ref, defects, digest := s.references.read(annotated{rec.ID, rec.Reference, s.Copy.rateOf(rec.Audio, rate), length})
	if d := excluded(defects); d != nil {
		return pcg.Reference{}, digest, fmt.Errorf("recording %s: %w: %s: %s", rec.ID, ErrUnusable, d.Place(), d.Message)
	}
	if ref.Empty() {
		return pcg.Reference{}, digest, fmt.Errorf("recording %s: %w", rec.ID, ErrNoReference)
	}
	return ref, digest, nil
}

// ReferenceDigest returns the digest of the annotation of a recording as
// [Set.Reference] does, from the files as they are now, empty where it has none. A
// table of all annotations counts as it was when s was opened.
func (s *Set) ReferenceDigest(rec *pcg.Recording) (string, error) {
	if rec.Reference == "" {
		return "", nil
	}
	return s.references.reader.digest(&s.references, rec.Reference)
}

// ReferenceDefects returns the defects of the reference annotation of a recording
// of s, in the order of its lines, without those that show only against the
// audio.
func (s *Set) ReferenceDefects(rec *pcg.Recording) []Defect {
	const anyRate = 1000 // in hertz: the order of rows does not depend on it
	_, defects, _ := s.references.read(annotated{rec.ID, rec.Reference, anyRate, 0})
	return defects
}

// Path returns the path of a file below the data root, absolute where the working
// directory is known, for programs that open it themselves.
func (s *Set) Path(name string) string {
	path := filepath.Join(s.Root, filepath.FromSlash(name))
	if absolute, err := filepath.Abs(path); err == nil {
		return absolute
	}
	return path
}

// OpenFile opens a file below the data root. The caller closes it.
func (s *Set) OpenFile(name string) (*File, error) {
	f, err := s.folder.openFile(name)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", Printable(name), err)
	}
	return f, nil
}

// FileDigest returns the digest of a file, as [File.Digest] does.
func (s *Set) FileDigest(name string) (string, error) {
	f, err := s.OpenFile(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	return f.Digest()
}

// Files returns all files below the data root, sorted. Names that begin with a dot are
// left out.
func (s *Set) Files() ([]string, error) {
	f, err := openFolder(s.folder.path, s.folder.follow) // to list is to count links
	if err != nil {
		return nil, err
	}
	defer f.close()
	l, err := f.list()
	if err != nil {
		return nil, err
	}
	return l.files, nil
}
