// Package corpus is the recordings of a run, over one or several data sets:
// which there are, whose they are, in which fold of a cross-validation their
// people lie, and how one is read.
//
// A data set is opened through its layout ([dataset.Open]). With several data
// sets, the name of the set stands before each id and each person, so that both
// stay unique. Lists of the user select people and recordings, before anything is
// counted or divided into folds. Entries are sorted by id. All commands walk the
// same list.
//
// A [Loader] turns an entry into samples at the analysis rate and a reference
// annotation, and fills in the row of the table recordings on the way. What
// goes wrong becomes the outcome and the reason of that row ([Fail]).
package corpus

import (
	"bufio"
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"sort"
	"strings"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// Corpus is the recordings of one or several data sets.
type Corpus struct {
	Sets     []*dataset.Set
	Entries  []Entry // sorted by ID
	DataSets []rundir.DataSet
	// Selection are the lists by which the recordings were selected.
	Selection []rundir.Selection
	Warnings  []string

	// Reference is the name of the reference that is read, the same in all data sets;
	// empty where no layout has one.
	Reference string

	common []commonLabel
	named  bool // by the user, and not by the first layout
}

// Entry is a recording and the data set that it belongs to.
type Entry struct {
	Set        *dataset.Set
	Recording  *pcg.Recording // of Set
	ID, Person string         // with several data sets, "set/id" and "set/person"
	fold       int32          // noFold for none
}

// Options say which recordings of data sets are read, and against what.
type Options struct {
	// Reference is the name of the reference, which every layout must have; empty for
	// the first that the first layout has.
	Reference string
	// People and Recordings are lists that select recordings, as [config.LoadPeople]
	// and [config.LoadRecordings] take them; empty for all.
	People, Recordings string
}

// Open lists the recordings of all data sets. Close releases the folders. A layout
// that is named twice is an error, since ids would not be unique.
func Open(inputs []config.Input, o Options) (*Corpus, error) {
	if len(inputs) == 0 {
		return nil, errors.New("no data: name a folder with --data and its layout with --layout")
	}
	c := &Corpus{Reference: o.Reference, named: o.Reference != ""}
	for _, in := range inputs {
		if err := c.openSet(in); err != nil {
			c.Close()
			return nil, err
		}
	}
	listed := make([]int, len(c.Sets))
	for i, s := range c.Sets {
		listed[i] = len(s.Recordings)
	}
	if err := c.selectBy(o); err != nil {
		c.Close()
		return nil, err
	}
	for i, s := range c.Sets {
		c.list(s, listed[i])
	}
	sort.SliceStable(c.Entries, func(a, b int) bool { return c.Entries[a].ID < c.Entries[b].ID })
	return c, nil
}

// openSet opens one data set.
func (c *Corpus) openSet(in config.Input) error {
	layout, err := dataset.LoadLayout(in.Layout)
	if err != nil {
		return err
	}
	if slices.ContainsFunc(c.Sets, func(s *dataset.Set) bool { return s.Layout.Name == layout.Name }) {
		return fmt.Errorf("layout %s is named twice: give the second folder a layout file with a name of its own", layout.Name)
	}
	o := dataset.Options{Reference: c.Reference, FollowLinks: in.FollowLinks}
	if len(layout.References) == 0 && !c.named {
		o.Reference = ""
	}
	set, err := dataset.OpenWith(in.Data, layout, o)
	if err != nil {
		return err
	}
	if err := c.sameSounds(set); err != nil {
		set.Close()
		return err
	}
	c.Reference = cmp.Or(c.Reference, set.ReferenceName)
	c.Sets = append(c.Sets, set)
	c.Warnings = append(c.Warnings, set.Warnings...)
	return nil
}

// list adds the recordings of a set, which had as many as listed before lists
// selected some.
func (c *Corpus) list(set *dataset.Set, listed int) {
	layout, prefix := set.Layout, c.prefix(set)
	c.Entries = slices.Grow(c.Entries, len(set.Recordings))
	for i := range set.Recordings {
		r := &set.Recordings[i]
		c.Entries = append(c.Entries, Entry{Set: set, Recording: r, ID: prefix + r.ID, Person: prefix + r.Person, fold: noFold})
	}
	var faults []rundir.TableFault
	for _, f := range set.TableFaults {
		faults = append(faults, rundir.TableFault{Text: f.String(), People: f.People})
	}
	if len(c.Selection) == 0 {
		listed = 0
	}
	c.DataSets = append(c.DataSets, rundir.DataSet{
		Name: layout.Name, Title: layout.Title, Version: layout.Version, Citation: layout.Citation, DOI: layout.DOI, Publications: layout.Publications,
		Recordings: len(set.Recordings), Listed: listed, LayoutDigest: layout.Digest(), ListDigest: listDigest(set.Recordings),
		ReferenceKind: set.ReferenceKind, ReferenceDelay: set.ReferenceDelay, Condition: set.Copy.Earlier(), TableFaults: faults,
	})
}

// prefix stands before the ids and the people of a set: its name, where there are
// several.
func (c *Corpus) prefix(s *dataset.Set) string {
	if len(c.Sets) > 1 {
		return s.Layout.Name + "/"
	}
	return ""
}

// sameSounds refuses a data set whose reference marks S1 only beside one whose
// reference of this name marks both sounds: their scores mean different things.
func (c *Corpus) sameSounds(set *dataset.Set) error {
	for _, other := range c.Sets {
		a, b := other.ReferenceKind, set.ReferenceKind
		if a != pcg.NoReference && b != pcg.NoReference && dataset.TraitsOf(a).S1Only != dataset.TraitsOf(b).S1Only {
			return fmt.Errorf("reference %s is of kind %s in layout %s and of kind %s in layout %s, and one of them marks S1 only: run the data sets apart, or name another with --reference",
				set.ReferenceName, a, other.Layout.Name, b, set.Layout.Name)
		}
	}
	return nil
}

// ReferenceWithDurations returns the name of the first reference of the first layout
// that says how long states last, or the empty string.
func (c *Corpus) ReferenceWithDurations() string {
	for _, ref := range c.Sets[0].Layout.References {
		if dataset.TraitsOf(ref.Kind).Durations {
			return ref.Name
		}
	}
	return ""
}

// Close releases the folders and the list of recordings. A second call does
// nothing.
func (c *Corpus) Close() {
	for _, s := range c.Sets {
		s.Close()
	}
	c.Sets, c.Entries = nil, nil
}

// Find returns the entry of an id.
func (c *Corpus) Find(id string) (*Entry, bool) {
	i := sort.Search(len(c.Entries), func(i int) bool { return c.Entries[i].ID >= id })
	if i == len(c.Entries) || c.Entries[i].ID != id {
		return nil, false
	}
	return &c.Entries[i], true
}

// Lists reports whether the data sets have a recording with the given id, also where
// lists do not select it.
func (c *Corpus) Lists(id string) bool {
	return slices.ContainsFunc(c.Sets, func(s *dataset.Set) bool {
		own, ok := strings.CutPrefix(id, c.prefix(s))
		return ok && s.Lists(own)
	})
}

// Suggest names recordings whose ids begin like the given one, or the first few.
func (c *Corpus) Suggest(id string) string {
	if len(c.Entries) == 0 {
		return "it holds none; check --data and --layout"
	}
	return suggest(func(yield func(string) bool) {
		for i := range c.Entries {
			if !yield(c.Entries[i].ID) {
				return
			}
		}
	}, id) + "; scan --list recordings prints all"
}

// suggest names the first of some sorted names that begin like the given one.
func suggest(names iter.Seq[string], like string) string {
	const most = 5
	for n := len(like); ; n-- {
		var found []string
		for name := range names {
			if strings.HasPrefix(name, like[:n]) && len(found) < most {
				found = append(found, name)
			}
		}
		if len(found) > 0 || n == 0 {
			return "there are " + strings.Join(found, ", ") + " and others"
		}
	}
}

// PersonKey names the person of an entry as models do.
func (e *Entry) PersonKey() string {
	return segment.PersonKey(e.Set.Layout.Name, e.Recording.Person)
}

// Unusable returns why no run can use the recording, or nil.
func (e *Entry) Unusable() error {
	if e.Recording.Unusable == "" {
		return nil
	}
	return fmt.Errorf("%w: %s", ErrExcluded, e.Recording.Unusable)
}

// listDigest identifies what a data set says about its recordings.
func listDigest(recordings []pcg.Recording) string {
	hash := sha256.New()
	b := bufio.NewWriter(hash)
	for i := range recordings {
		describe(b, &recordings[i])
	}
	b.Flush() // writing to a hash never fails
	return hex.EncodeToString(hash.Sum(nil))
}

// describe writes what a data set says about a recording.
func describe(w io.Writer, r *pcg.Recording) {
	fmt.Fprintf(w, "%q %q %q %d %q %q", r.ID, r.Person, r.Site, r.Take, r.Audio, r.Reference)
	for l := range r.Labels.All() {
		fmt.Fprintf(w, " %q=%q", l.Name, l.Value)
	}
	fmt.Fprintln(w)
}

// Sources says in which files the data set describes a recording beside its audio,
// in brackets; empty where there are none.
func (e *Entry) Sources() string {
	files := e.Set.Sources(e.Recording)
	if len(files) == 0 {
		return ""
	}
	const most = 4
	if more := len(files) - most; more > 0 {
		files = append(files[:most], fmt.Sprintf("and %d more files", more))
	}
	for i, f := range files {
		files[i] = dataset.Printable(f)
	}
	return " (" + strings.Join(files, ", ") + ")"
}

// LabelsDigest identifies what the data set says about a recording.
func (e *Entry) LabelsDigest() string {
	var b bytes.Buffer
	describe(&b, e.Recording)
	return rundir.Digest(b.Bytes())
}

// Row returns the row of the table recordings of an entry, as far as it is known
// before the audio is read.
func (e *Entry) Row() table.Recording {
	rec := e.Recording
	return table.Recording{
		Recording: e.ID, DataSet: rec.DataSet, Person: e.Person, Site: rec.Site, Take: int32(rec.Take),
		Audio: dataset.Printable(rec.Audio), Reference: e.Set.ReferenceName, LabelsDigest: e.LabelsDigest(), Fold: e.Fold(),
		Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN(),
	}
}
