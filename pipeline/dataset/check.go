package dataset

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/yamlcheck"
)

// compiledLayout is a layout whose every value was checked: patterns are
// compiled and codes are resolved.
type compiledLayout struct {
	paths     *pathReader
	tables    []compiledTable
	reference compiledReference
}

type compiledTable struct {
	TableRule
	key joinKey
}

type compiledReference struct {
	ReferenceRule
	kind   referenceKind
	key    joinKey
	states map[string]pcg.State // by lower-case code
}

// joinKey takes the key out of a cell, by a pattern unless that is nil.
type joinKey struct{ *regexp.Regexp }

// of returns the key of a cell; ok is false if the cell does not match.
func (k joinKey) of(cell string) (key string, ok bool) {
	if k.Regexp == nil {
		return cell, true
	}
	m := k.FindStringSubmatch(cell)
	if m == nil {
		return "", false
	}
	return m[k.SubexpIndex("key")], true
}

// keyError is what is wrong with the value of a key of a YAML file.
type keyError struct {
	key string // such as $.reference.kind
	err error
}

func (e *keyError) Error() string { return strings.TrimPrefix(e.key, "$.") + ": " + e.err.Error() }
func (e *keyError) Unwrap() error { return e.err }

// placed adds file, line and column to a keyError.
func placed(doc *yamlcheck.Document, err error) error {
	key := "$"
	var bad *keyError
	if errors.As(err, &bad) {
		key = bad.key
	}
	return fmt.Errorf("%s: %w", doc.Place(key), err)
}

// checker compiles the values of a YAML file and keeps the first error, a
// keyError. What it returns after an error must not be used.
type checker struct{ err error }

func (c *checker) fail(key, format string, args ...any) {
	c.check(key, fmt.Errorf(format, args...))
}

func (c *checker) check(key string, err error) {
	if c.err == nil && err != nil {
		c.err = &keyError{key, err}
	}
}

func (c *checker) oneOf(key, value string, allowed ...string) {
	if !slices.Contains(allowed, value) {
		last := len(allowed) - 1
		c.fail(key, "%q: want %s or %s", value, strings.Join(allowed[:last], ", "), allowed[last])
	}
}

// wholeMatch compiles a regular expression that must match the whole of a text.
func (c *checker) wholeMatch(key, text string) *regexp.Regexp {
	re, err := regexp.Compile("^(?:" + text + ")$")
	if err != nil {
		c.check(key, err)
		return regexp.MustCompile("")
	}
	return re
}

// compile checks l. Errors are keyErrors.
func (l *Layout) compile() (*compiledLayout, error) {
	var c checker
	paths, fields := c.paths(l)
	p := &compiledLayout{paths: paths}
	c.audio(&l.Audio)
	for i := range l.Tables {
		p.tables = append(p.tables, c.table(fmt.Sprintf("$.tables[%d]", i), &l.Tables[i], fields))
	}
	c.stratify(l)
	p.reference = c.reference("$.reference", &l.Reference, fields)
	return p, c.err
}

var layoutName = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]*$`)

// paths checks the description of the data set and the patterns of paths, and
// returns the fields that templates may use.
func (c *checker) paths(l *Layout) (paths *pathReader, fields []string) {
	for _, want := range []struct{ key, value string }{
		{"$.name", l.Name}, {"$.title", l.Title}, {"$.version", l.Version},
		{"$.citation", l.Citation}, {"$.licence", l.Licence}, {"$.source", l.Source},
	} {
		if strings.TrimSpace(want.value) == "" {
			c.fail(want.key, "missing: every layout says what its data set is (write \"not stated\" if it is not)")
		}
	}
	if !layoutName.MatchString(l.Name) {
		c.fail("$.name", "%q: use lower-case letters, digits, - and _", l.Name)
	}
	if len(l.Recording.Patterns) == 0 {
		c.fail("$.recording.patterns", "missing: at least one regular expression over the path, such as '(?P<id>.+)\\.wav'")
	}
	paths = &pathReader{fields: map[string]string{}}
	reserved := []string{"path", "dir", "stem"}
	var captured []string
	for i, text := range l.Recording.Patterns {
		key := fmt.Sprintf("$.recording.patterns[%d]", i)
		re := c.wholeMatch(key, text)
		paths.patterns = append(paths.patterns, re)
		for _, g := range re.SubexpNames() {
			if slices.Contains(reserved, g) {
				c.fail(key, "the group name %q is reserved for the file's path", g)
			}
			if g != "" {
				captured = append(captured, g)
			}
		}
	}
	for i, g := range l.Recording.Labels {
		if !slices.Contains(captured, g) {
			c.fail(fmt.Sprintf("$.recording.labels[%d]", i), "no pattern has a group %q", g)
		}
	}
	return paths, slices.Concat(reserved, []string{"id", "person", "site"}, captured)
}

// stratify checks that people are spread over folds by labels of the layout.
func (c *checker) stratify(l *Layout) {
	var labels []string
	for _, s := range l.labels() {
		labels = append(labels, s.name)
	}
	for i, name := range l.Stratify {
		if !slices.Contains(labels, name) {
			c.fail(fmt.Sprintf("$.stratify[%d]", i), "%q is no label of this layout: it has %s", name, strings.Join(labels, ", "))
		}
	}
}

func (c *checker) audio(a *AudioRule) {
	if len(a.Include) == 0 {
		c.fail("$.audio.include", "missing: at least one pattern, such as \"**/*.wav\"")
	}
	for i, p := range a.Include {
		c.check(fmt.Sprintf("$.audio.include[%d]", i), checkPattern(p))
	}
	for i, e := range a.Exclude {
		c.check(fmt.Sprintf("$.audio.exclude[%d].path", i), checkPattern(e.Path))
		if e.Reason == "" {
			c.fail(fmt.Sprintf("$.audio.exclude[%d].reason", i), "missing: say why these files are left out")
		}
	}
}

// table checks the rule of a table at a key.
func (c *checker) table(at string, t *TableRule, fields []string) compiledTable {
	c.check(at+".path", checkTemplate(t.Path, fields))
	if t.Only != "" {
		c.check(at+".only", checkPattern(t.Only))
	}
	c.delimiter(at+".delimiter", t.Delimiter)
	c.oneOf(at+".header", t.Header, headerPresent, headerAbsent)
	if t.Key == "" {
		c.fail(at+".key", "missing: which column names the recording or the person?")
	}
	c.column(at+".key", t.Key, t.Header)
	c.column(at+".person", t.Person, t.Header)
	c.column(at+".site", t.Site, t.Header)
	c.column(at+".take", t.Take, t.Header)
	c.column(at+".same_person", t.SamePerson, t.Header)
	for i, l := range t.Labels {
		label := fmt.Sprintf("%s.labels[%d]", at, i)
		if l.Name == "" {
			c.fail(label+".name", "missing: the label needs a name")
		}
		if l.Column == "" {
			c.fail(label+".column", "missing: which column is label %q?", l.Name)
		}
		c.oneOf(label+".type", cmp.Or(l.Type, labelText), labelText, labelNumber, labelAny)
		c.column(label+".column", l.Column, t.Header)
	}
	return compiledTable{*t, c.joinKey(at, t.Match, t.KeyPattern, fields)}
}

// joinKey checks the template and the pattern that join rows to recordings.
func (c *checker) joinKey(at, match, pattern string, fields []string) joinKey {
	if match == "" {
		c.fail(at+".match", "missing: what is the key joined to? Write for example \"{id}\"")
	}
	c.check(at+".match", checkFields(match, fields))
	if pattern == "" {
		return joinKey{}
	}
	re := c.wholeMatch(at+".key_pattern", pattern)
	if re.SubexpIndex("key") < 0 {
		c.fail(at+".key_pattern", "has no group (?P<key>...)")
	}
	return joinKey{re}
}

// reference checks the rule of a reference at a key.
func (c *checker) reference(at string, r *ReferenceRule, fields []string) compiledReference {
	p := compiledReference{ReferenceRule: *r, kind: referenceKinds[r.Kind]}
	if r.Kind == pcg.NoReference && len(r.Paths) == 0 {
		return p
	}
	c.oneOf(at+".kind", string(r.Kind), kindNames()...)
	if len(r.Paths) == 0 {
		c.fail(at+".paths", "missing: where is the reference, such as \"{dir}/{id}.tsv\"?")
	}
	for i, t := range r.Paths {
		c.check(fmt.Sprintf("%s.paths[%d]", at, i), checkTemplate(t, fields))
	}
	c.delimiter(at+".delimiter", r.Delimiter)
	c.oneOf(at+".header", r.Header, headerPresent, headerAbsent, headerOptional)
	for _, role := range p.kind.roles {
		key, column := at+".columns."+string(role), r.Columns.of(role)
		if column == "" {
			c.fail(key, "missing: a reference of kind %s needs it", r.Kind)
		}
		c.column(key, column, r.Header)
	}
	c.oneOf(at+".unit", r.Unit, unitSeconds, unitSamples)
	if r.Base != 0 && (r.Base != 1 || r.Unit != unitSamples) {
		c.fail(at+".base", "%d: the first sample has the number 0 or 1; times in seconds begin at 0", r.Base)
	}
	p.states = c.states(at+".states", r.States, p.kind.soundsOnly)
	if r.Key == "" {
		if r.Match != "" || r.KeyPattern != "" {
			c.fail(at+".key", "missing: which column names the recording?")
		}
		return p
	}
	if len(r.Paths) != 1 || strings.Contains(r.Paths[0], "{") {
		c.fail(at+".paths", "a reference with a key column is one table: want one path without {}")
	}
	if r.Header == headerOptional {
		c.fail(at+".header", "a reference with a key column: want present or absent")
	}
	c.column(at+".key", r.Key, r.Header)
	p.key = c.joinKey(at, r.Match, r.KeyPattern, fields)
	return p
}

// states returns the states by their codes in lower case.
func (c *checker) states(key string, codes map[string]string, soundsOnly bool) map[string]pcg.State {
	if len(codes) == 0 {
		c.fail(key, "missing: which code stands for which state?")
	}
	states := make(map[string]pcg.State, len(codes))
	for _, code := range slices.Sorted(maps.Keys(codes)) {
		state, err := pcg.ParseState(codes[code])
		if err != nil {
			c.fail(key, "code %q: %w", code, err)
		}
		if soundsOnly && !state.IsSound() {
			c.fail(key, "code %q: a point marks S1 or S2, not %v", code, state)
		}
		lower := strings.ToLower(code)
		if before, ok := states[lower]; ok && before != state {
			c.fail(key, "code %q: stands for %v in another spelling", code, before)
		}
		states[lower] = state
	}
	return states
}

func (c *checker) delimiter(key, name string) {
	if name != "" {
		c.oneOf(key, name, slices.Sorted(maps.Keys(delimiters))...)
	}
}

// column refuses names where there is no header to find them in.
func (c *checker) column(key, column, header string) {
	if column == "" || header != headerAbsent {
		return
	}
	if n, err := strconv.Atoi(column); err != nil || n < 1 || n > maxFields {
		c.fail(key, "%q: a table without header has columns 1, 2, and so on", column)
	}
}
