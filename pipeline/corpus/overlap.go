package corpus

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/segment"
)

// Overlap tells on whose recordings among those of a corpus a model was fitted.
// A person is known by name, or by a recording whose audio is a file that the
// model has learnt from: then the person has another name there.
type Overlap struct {
	corpus *Corpus
	model  *segment.Model
	copies map[string]*Entry // by person: the first whose audio the model has learnt from
}

// NewOverlap compares the people and the audio of the corpus with those of a
// model. It reads only files that agree with one of the model in size and start.
func (c *Corpus) NewOverlap(model *segment.Model) *Overlap {
	return &Overlap{c, model, c.copies(model, func(e *Entry) bool { return !model.Knows(e.PersonKey()) })}
}

// copies returns, by person, the first entry among the given ones whose audio the
// model has learnt from. A file that cannot be read is none: its recording fails.
func (c *Corpus) copies(model *segment.Model, among func(*Entry) bool) map[string]*Entry {
	copies := map[string]*Entry{}
	if len(model.Audio) == 0 {
		return copies
	}
	learnt := newLearntAudio(model)
	for i := range c.Entries {
		e := &c.Entries[i]
		if copies[e.Person] == nil && among(e) && e.Unusable() == nil && learnt.has(e) {
			copies[e.Person] = e
		}
	}
	return copies
}

// learntAudio is the audio files that a model has learnt from, by what is looked
// at first.
type learntAudio struct {
	sizes   map[int64]bool
	starts  map[uint32]bool
	digests map[string]bool
}

func newLearntAudio(model *segment.Model) *learntAudio {
	l := &learntAudio{map[int64]bool{}, map[uint32]bool{}, map[string]bool{}}
	for _, a := range model.Audio {
		l.sizes[a.Size], l.starts[a.Start], l.digests[a.Digest] = true, true, true
	}
	return l
}

// has reports whether the audio of an entry is one of the files. It reads only a
// file that agrees with one of them in size and start.
func (l *learntAudio) has(e *Entry) bool {
	if e.copied() {
		original, err := e.Original(nil)
		return err == nil && l.digests[original.Digest]
	}
	files, err := e.Set.SampleFiles(e.Recording.Audio)
	return err == nil && slices.ContainsFunc(files, func(name string) bool { return l.hasFile(e.Set, name) })
}

func (l *learntAudio) hasFile(s *dataset.Set, name string) bool {
	file, err := s.OpenFile(name)
	if err != nil {
		return false
	}
	defer file.Close()
	if !l.sizes[file.Size()] {
		return false
	}
	if start, err := startOf(file); err != nil || !l.starts[start] {
		return false
	}
	digest, err := file.Digest()
	return err == nil && l.digests[digest]
}

// identify returns what a model keeps of the audio file of a recording.
func identify(file *dataset.File) (segment.AudioFile, error) {
	start, err := startOf(file)
	if err != nil {
		return segment.AudioFile{}, err
	}
	digest, err := file.Digest()
	return segment.AudioFile{Digest: digest, Size: file.Size(), Start: start}, err
}

// copied reports whether the audio of an entry was changed, so that its file is not that
// which a model may have learnt from.
func (e *Entry) copied() bool {
	c := e.Set.Copy.Of(e.Recording.Audio)
	return c != nil && c.Original != ""
}

// Original returns what a model keeps of the audio of an entry, of which f is the file: in
// a copy with changed audio that of the original.
func (e *Entry) Original(f *dataset.File) (original segment.AudioFile, err error) {
	if !e.copied() {
		return identify(f)
	}
	if err := original.UnmarshalText([]byte(e.Set.Copy.Of(e.Recording.Audio).Original)); err != nil {
		return original, fmt.Errorf("%s: recording %s: %w: make the copy again with degrade", dataset.CopyFile, e.ID, err)
	}
	return original, nil
}

// startOf returns the checksum of the first bytes of a file.
func startOf(file io.ReadSeeker) (uint32, error) {
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return 0, err
	}
	start := make([]byte, segment.AudioStart)
	n, err := io.ReadFull(file, start)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil
	}
	return segment.AudioStartOf(start[:n]), err
}

// Knows reports whether the model was fitted on recordings of the person of an
// entry.
func (o *Overlap) Knows(e *Entry) bool {
	return o.copies[e.Person] != nil || o.model.Knows(e.PersonKey())
}

// People returns the people among the given entries on whose recordings the model
// was fitted, in order.
func (o *Overlap) People(among func(*Entry) bool) []string {
	var people []string
	for i := range o.corpus.Entries {
		if e := &o.corpus.Entries[i]; among(e) && o.Knows(e) {
			people = append(people, e.Person)
		}
	}
	slices.Sort(people)
	return slices.Compact(people)
}

// Check refuses to score the model on people of its training data, unless the user
// says what happens to them. what names the model.
func (o *Overlap) Check(what string, action config.Overlap) error {
	if action != config.RefuseOverlap {
		return nil
	}
	people := o.People(func(e *Entry) bool { return e.Recording.Reference != "" })
	if len(people) == 0 {
		return nil
	}
	first := people[0]
	if e := o.copies[first]; e != nil {
		first += fmt.Sprintf(" (known by the audio of recording %s, which the model has learnt from under another name)", e.ID)
	}
	return fmt.Errorf("%s was fitted on recordings of %d of these people, first %s: a score on them says nothing about others; "+
		"score with crossval, leave them out of the scores with --training-overlap leave-out, or use segment and extract, which do not score",
		what, len(people), first)
}

// CheckNoCopies refuses recordings among the given ones whose audio the model has
// learnt from. In a cross-validation they stand for a person with two names.
func (c *Corpus) CheckNoCopies(model *segment.Model, among func(*Entry) bool) error {
	var first *Entry
	for _, e := range c.copies(model, among) {
		if first == nil || e.ID < first.ID {
			first = e
		}
	}
	if first == nil {
		return nil
	}
	return fmt.Errorf("the audio of recording %s of person %s is also that of another person in the data: "+
		"give both the same person in the tables of the data set, or remove one of the two files", first.ID, first.Person)
}
