package dataset

import (
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

func bad(key, format string, args ...any) error {
	return &keyError{key, fmt.Errorf(format, args...)}
}

// placed adds file, line and column to a keyError.
func placed(doc *yamlcheck.Document, err error) error {
	key := "$"
	var bad *keyError
	if errors.As(err, &bad) {
		key = bad.key
	}
	return fmt.Errorf("%s: %w", doc.Place(key), err)
}

// compile checks l. Errors are keyErrors.
func (l *Layout) compile() (*compiledLayout, error) {
	p := &compiledLayout{}
	paths, fields, err := compilePaths(l)
	if err != nil {
		return nil, err
	}
	p.paths = paths
	if err := l.Audio.check(); err != nil {
		return nil, err
	}
	for i := range l.Tables {
		t, err := compileTable(fmt.Sprintf("$.tables[%d]", i), &l.Tables[i], fields)
		if err != nil {
			return nil, err
		}
		p.tables = append(p.tables, t)
	}
	if err := l.checkStratify(); err != nil {
		return nil, err
	}
	p.reference, err = compileReference("$.reference", &l.Reference, fields)
	return p, err
}

// compilePaths checks the description of the data set and the patterns of paths,
// and returns the fields that templates may use.
func compilePaths(l *Layout) (paths *pathReader, fields []string, err error) {
	paths = &pathReader{fields: map[string]string{}}
	for _, want := range []struct{ key, value string }{
		{"$.name", l.Name}, {"$.title", l.Title}, {"$.version", l.Version},
		{"$.citation", l.Citation}, {"$.licence", l.Licence}, {"$.source", l.Source},
	} {
		if strings.TrimSpace(want.value) == "" {
			return nil, nil, bad(want.key, "missing: every layout says what its data set is (write \"not stated\" if it is not)")
		}
	}
	if !regexp.MustCompile(`^[a-z0-9][a-z0-9_-]*$`).MatchString(l.Name) {
		return nil, nil, bad("$.name", "%q: use lower-case letters, digits, - and _", l.Name)
	}
	if len(l.Recording.Patterns) == 0 {
		return nil, nil, bad("$.recording.patterns", "missing: at least one regular expression over the path, such as '(?P<id>.+)\\.wav'")
	}
	fields = []string{"path", "dir", "stem", "id", "person", "site"}
	var captured []string
	for i, text := range l.Recording.Patterns {
		re, err := regexp.Compile("^(?:" + text + ")$")
		if err != nil {
			return nil, nil, bad(fmt.Sprintf("$.recording.patterns[%d]", i), "%w", err)
		}
		paths.patterns = append(paths.patterns, re)
		for _, g := range re.SubexpNames() {
			if slices.Contains(fields[:3], g) {
				return nil, nil, bad(fmt.Sprintf("$.recording.patterns[%d]", i), "the group name %q is reserved for the file's path", g)
			}
			if g != "" {
				captured = append(captured, g)
			}
		}
	}
	for i, g := range l.Recording.Labels {
		if !slices.Contains(captured, g) {
			return nil, nil, bad(fmt.Sprintf("$.recording.labels[%d]", i), "no pattern has a group %q", g)
		}
	}
	return paths, append(fields, captured...), nil
}

// checkStratify checks that people are spread over folds by labels of the layout.
func (l *Layout) checkStratify() error {
	var labels []string
	for _, s := range l.labels() {
		labels = append(labels, s.name)
	}
	for i, name := range l.Stratify {
		if !slices.Contains(labels, name) {
			return bad(fmt.Sprintf("$.stratify[%d]", i), "%q is no label of this layout: it has %s", name, strings.Join(labels, ", "))
		}
	}
	return nil
}

func (a *AudioRule) check() error {
	if len(a.Include) == 0 {
		return bad("$.audio.include", "missing: at least one pattern, such as \"**/*.wav\"")
	}
	for i, p := range a.Include {
		if err := checkPattern(p); err != nil {
			return bad(fmt.Sprintf("$.audio.include[%d]", i), "%w", err)
		}
	}
	for i, e := range a.Exclude {
		if err := checkPattern(e.Path); err != nil {
			return bad(fmt.Sprintf("$.audio.exclude[%d].path", i), "%w", err)
		}
		if e.Reason == "" {
			return bad(fmt.Sprintf("$.audio.exclude[%d].reason", i), "missing: say why these files are left out")
		}
	}
	return nil
}

func compileTable(at string, t *TableRule, fields []string) (compiledTable, error) {
	p := compiledTable{TableRule: *t}
	if err := checkTemplate(t.Path, fields); err != nil {
		return p, bad(at+".path", "%w", err)
	}
	if t.Only != "" {
		if err := checkPattern(t.Only); err != nil {
			return p, bad(at+".only", "%w", err)
		}
	}
	if err := checkDelimiter(t.Delimiter); err != nil {
		return p, bad(at+".delimiter", "%w", err)
	}
	if err := checkHeader(t.Header, headerPresent, headerAbsent); err != nil {
		return p, bad(at+".header", "%w", err)
	}
	columns := []struct{ key, column string }{
		{at + ".key", t.Key}, {at + ".person", t.Person}, {at + ".site", t.Site}, {at + ".take", t.Take},
		{at + ".same_person", t.SamePerson},
	}
	for i, l := range t.Labels {
		label := fmt.Sprintf("%s.labels[%d]", at, i)
		if l.Name == "" {
			return p, bad(label+".name", "missing: the label needs a name")
		}
		if l.Column == "" {
			return p, bad(label+".column", "missing: which column is label %q?", l.Name)
		}
		if !slices.Contains([]string{"", labelText, labelNumber, labelAny}, l.Type) {
			return p, bad(label+".type", "%q: want text, number or any", l.Type)
		}
		columns = append(columns, struct{ key, column string }{label + ".column", l.Column})
	}
	if t.Key == "" {
		return p, bad(at+".key", "missing: which column names the recording or the person?")
	}
	for _, c := range columns {
		if err := checkColumn(c.column, t.Header); err != nil {
			return p, bad(c.key, "%w", err)
		}
	}
	var err error
	p.key, err = compileJoin(at, t.Match, t.KeyPattern, fields)
	return p, err
}

// compileJoin checks the template and the pattern that join rows to recordings.
func compileJoin(at, match, pattern string, fields []string) (key joinKey, err error) {
	if match == "" {
		return key, bad(at+".match", "missing: what is the key joined to? Write for example \"{id}\"")
	}
	if err := checkFields(match, fields); err != nil {
		return key, bad(at+".match", "%w", err)
	}
	if pattern == "" {
		return key, nil
	}
	re, err := regexp.Compile("^(?:" + pattern + ")$")
	if err != nil {
		return key, bad(at+".key_pattern", "%w", err)
	}
	if re.SubexpIndex("key") < 0 {
		return key, bad(at+".key_pattern", "has no group (?P<key>...)")
	}
	return joinKey{re}, nil
}

// compileReference checks the rule of a reference at a key.
func compileReference(at string, r *ReferenceRule, fields []string) (compiledReference, error) {
	p := compiledReference{ReferenceRule: *r}
	if r.Kind == pcg.NoReference {
		if len(r.Paths) > 0 {
			return p, bad(at+".kind", "missing: want %s", kindNames())
		}
		return p, nil
	}
	var ok bool
	if p.kind, ok = referenceKinds[r.Kind]; !ok {
		return p, bad(at+".kind", "unknown kind %q: want %s", r.Kind, kindNames())
	}
	if len(r.Paths) == 0 {
		return p, bad(at+".paths", "missing: where is the reference, such as \"{dir}/{id}.tsv\"?")
	}
	for i, t := range r.Paths {
		if err := checkTemplate(t, fields); err != nil {
			return p, bad(fmt.Sprintf("%s.paths[%d]", at, i), "%w", err)
		}
	}
	if err := checkDelimiter(r.Delimiter); err != nil {
		return p, bad(at+".delimiter", "%w", err)
	}
	if err := checkHeader(r.Header, headerPresent, headerAbsent, headerOptional); err != nil {
		return p, bad(at+".header", "%w", err)
	}
	for _, role := range p.kind.roles {
		key, column := at+".columns."+string(role), r.Columns.of(role)
		if column == "" {
			return p, bad(key, "missing: a reference of kind %s needs it", r.Kind)
		}
		if err := checkColumn(column, r.Header); err != nil {
			return p, bad(key, "%w", err)
		}
	}
	if r.Unit != unitSeconds && r.Unit != unitSamples {
		return p, bad(at+".unit", "%q: want seconds or samples", r.Unit)
	}
	if r.Base != 0 && (r.Base != 1 || r.Unit != unitSamples) {
		return p, bad(at+".base", "%d: the first sample has the number 0 or 1; times in seconds begin at 0", r.Base)
	}
	if err := p.compileStates(at); err != nil {
		return p, err
	}
	if r.Key == "" {
		if r.Match != "" || r.KeyPattern != "" {
			return p, bad(at+".key", "missing: which column names the recording?")
		}
		return p, nil
	}
	if len(r.Paths) != 1 || strings.Contains(r.Paths[0], "{") {
		return p, bad(at+".paths", "a reference with a key column is one table: want one path without {}")
	}
	if r.Header == headerOptional {
		return p, bad(at+".header", "a reference with a key column: want present or absent")
	}
	if err := checkColumn(r.Key, r.Header); err != nil {
		return p, bad(at+".key", "%w", err)
	}
	var err error
	p.key, err = compileJoin(at, r.Match, r.KeyPattern, fields)
	return p, err
}

func (p *compiledReference) compileStates(at string) error {
	if len(p.States) == 0 {
		return bad(at+".states", "missing: which code stands for which state?")
	}
	p.states = make(map[string]pcg.State, len(p.States))
	for _, code := range slices.Sorted(maps.Keys(p.States)) {
		state, err := pcg.ParseState(p.States[code])
		if err != nil {
			return bad(at+".states", "code %q: %w", code, err)
		}
		if p.kind.soundsOnly && !state.IsSound() {
			return bad(at+".states", "code %q: a point marks S1 or S2, not %v", code, state)
		}
		lower := strings.ToLower(code)
		if before, ok := p.states[lower]; ok && before != state {
			return bad(at+".states", "code %q: stands for %v in another spelling", code, before)
		}
		p.states[lower] = state
	}
	return nil
}

func checkDelimiter(name string) error {
	if _, ok := delimiters[name]; !ok && name != "" {
		return fmt.Errorf("%q: want comma, tab, semicolon or space", name)
	}
	return nil
}

func checkHeader(value string, allowed ...string) error {
	if !slices.Contains(allowed, value) {
		return fmt.Errorf("%q: want %s", value, strings.Join(allowed, " or "))
	}
	return nil
}

// checkColumn refuses names where there is no header to find them in.
func checkColumn(column, header string) error {
	if column == "" || header != headerAbsent {
		return nil
	}
	if n, err := strconv.Atoi(column); err != nil || n < 1 || n > maxFields {
		return fmt.Errorf("%q: a table without header has columns 1, 2, and so on", column)
	}
	return nil
}
