package corpus

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/segment"
)

// selector decides by one list which recordings are selected.
type selector struct {
	of    string // rundir.OfPeople or rundir.OfRecordings
	what  string // one of them, in messages
	key   func(*dataset.Set, *pcg.Recording) string
	list  *config.List
	known map[string]bool // all keys of the data sets
	selectionRules
}

// Ids of all data sets are told apart by the name of the set.
func personKey(s *dataset.Set, r *pcg.Recording) string {
	return segment.PersonKey(s.Layout.Name, r.Person)
}
func recordingKey(s *dataset.Set, r *pcg.Recording) string { return s.Layout.Name + "/" + r.ID }

// The two kinds of list.
func byPeople() *selector { return &selector{of: rundir.OfPeople, what: "person", key: personKey} }
func byRecordings() *selector {
	return &selector{of: rundir.OfRecordings, what: "recording", key: recordingKey}
}

// selectBy leaves the recordings that the lists of the user select: those of the
// selected people among the selected recordings.
func (c *Corpus) selectBy(o Options) (err error) {
	var selectors []*selector
	for _, l := range []struct {
		file string
		load func(string) (*config.List, error)
		by   *selector
	}{{o.People, config.LoadPeople, byPeople()}, {o.Recordings, config.LoadRecordings, byRecordings()}} {
		if l.file == "" {
			continue
		}
		if l.by.list, err = l.load(l.file); err != nil {
			return err
		}
		if err := l.by.resolve(c); err != nil {
			return fmt.Errorf("list of %s %w", l.by.of, err)
		}
		selectors = append(selectors, l.by)
		c.Selection = append(c.Selection, rundir.Selection{Of: l.by.of, Name: l.by.list.Name, Digest: l.by.digest()})
	}
	if len(selectors) == 0 {
		return nil
	}
	for _, s := range c.Sets {
		listed := len(s.Recordings)
		s.Select(func(r *pcg.Recording) bool {
			return !slices.ContainsFunc(selectors, func(by *selector) bool { return !by.has(by.key(s, r)) })
		})
		if len(s.Recordings) == 0 {
			return noneSelected(s, listed, selectors, len(c.Sets) > 1)
		}
	}
	return nil
}

// noneSelected says that the lists leave nothing of a data set.
func noneSelected(s *dataset.Set, listed int, selectors []*selector, several bool) error {
	var lists, flags []string
	for _, by := range selectors {
		lists, flags = append(lists, by.list.File), append(flags, "--"+by.of)
	}
	remedy := "leave " + strings.Join(flags, " and ") + " out"
	if several {
		remedy = "leave the data set out"
	}
	return fmt.Errorf("by the list %s none of the %d recordings of %s is selected: name some of them, or %s", strings.Join(lists, " and "), listed, s.Layout.Name, remedy)
}

// selectionRules are the lines of a list: the keys of what it names and excludes, each
// with its line.
type selectionRules struct{ named, excluded map[string]int }

// has reports whether the list selects a key. Without names, all but those excluded
// are selected.
func (r *selectionRules) has(key string) bool {
	if r.excluded[key] > 0 {
		return false
	}
	return len(r.named) == 0 || r.named[key] > 0
}

// digest identifies the rules, whatever their order and the ids by which people are
// named.
func (r *selectionRules) digest() string {
	hash := sha256.New()
	for _, key := range slices.Sorted(maps.Keys(r.named)) {
		fmt.Fprintf(hash, "%q\n", key)
	}
	for _, key := range slices.Sorted(maps.Keys(r.excluded)) {
		fmt.Fprintf(hash, "!%q\n", key)
	}
	return hex.EncodeToString(hash.Sum(nil))
}

// resolve finds whom or what the lines of the list mean in the data sets. Two ids of
// one person may both stand in it, but not one named and the other excluded.
func (by *selector) resolve(c *Corpus) error {
	by.known, by.selectionRules = c.keys(by), selectionRules{map[string]int{}, map[string]int{}}
	var unknown []config.ListLine
	for _, line := range by.list.Lines {
		key, ok := by.keyOf(c, line.ID)
		if !ok {
			unknown = append(unknown, line)
			continue
		}
		same, opposite := by.named, by.excluded
		if line.Exclude {
			same, opposite = opposite, same
		}
		if at := opposite[key]; at > 0 {
			return fmt.Errorf("%s:%d: %s is named and excluded, in line %d under another id: remove one of the two lines", by.list.File, line.Number, line.ID, at)
		}
		same[key] = line.Number
	}
	if len(unknown) > 0 {
		return by.unknownID(c, unknown)
	}
	return nil
}

// keys returns the keys of all people or recordings.
func (c *Corpus) keys(by *selector) map[string]bool {
	keys := map[string]bool{}
	for _, s := range c.Sets {
		for i := range s.Recordings {
			keys[by.key(s, &s.Recordings[i])] = true
		}
	}
	return keys
}

// keyOf returns the key of an id: as scan prints it, or with the name of its data set
// before it. Any id that a table gives a person will do.
func (by *selector) keyOf(c *Corpus, id string) (key string, ok bool) {
	for _, s := range c.Sets {
		for _, prefix := range []string{c.prefix(s), s.Layout.Name + "/"} {
			name, ok := strings.CutPrefix(id, prefix)
			if !ok {
				continue
			}
			if by.of == rundir.OfPeople {
				name = s.PersonNamed(name)
			}
			if key := s.Layout.Name + "/" + name; by.known[key] {
				return key, true
			}
		}
	}
	return "", false
}

// unknownID says that ids of the list are not in the data, and what may be meant.
func (by *selector) unknownID(c *Corpus, unknown []config.ListLine) error {
	first := unknown[0]
	text := fmt.Sprintf("%s:%d: the data have no %s %q", by.list.File, first.Number, by.what, first.ID)
	if n := len(unknown) - 1; n > 0 {
		text += fmt.Sprintf(", nor %d more that the list names", n)
	}
	for _, other := range []*selector{byPeople(), byRecordings()} {
		other.known = c.keys(other)
		if _, ok := other.keyOf(c, first.ID); ok {
			return fmt.Errorf("%s, but a %s of this name: give a list of %s with --%s", text, other.what, other.of, other.of)
		}
	}
	if strings.ContainsAny(first.ID, " \t") {
		text += " (an id stands alone in its line; so does a comment)"
	}
	names := slices.Sorted(maps.Keys(by.known))
	if len(c.Sets) == 1 {
		for i := range names {
			names[i] = strings.TrimPrefix(names[i], c.Sets[0].Layout.Name+"/")
		}
	}
	return fmt.Errorf("%s: %s; scan --list %s prints all", text, suggest(slices.Values(names), first.ID), by.of)
}

// WriteNames writes the names of the people or of the recordings, one per line, as
// lists name them.
func (c *Corpus) WriteNames(w io.Writer, of string) error {
	name := func(e *Entry) string { return e.ID }
	switch of {
	case rundir.OfRecordings:
	case rundir.OfPeople:
		name = func(e *Entry) string { return e.Person }
	default:
		return fmt.Errorf("names of %q: want people or recordings", of)
	}
	seen := map[string]bool{}
	for i := range c.Entries {
		e := &c.Entries[i]
		n := name(e)
		if strings.HasPrefix(n, "#") || strings.HasPrefix(n, "!") { // no comment, and not excluded
			n = e.Set.Layout.Name + "/" + n
		}
		if seen[n] {
			continue
		}
		seen[n] = true
		if _, err := fmt.Fprintln(w, n); err != nil {
			return err
		}
	}
	return nil
}
