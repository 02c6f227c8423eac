package dataset

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"regexp/syntax"
	"slices"
	"strconv"
	"strings"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/yamlcheck"
)

// compiledLayout is a layout whose every value was checked: patterns are
// compiled and codes are resolved.
type compiledLayout struct {
	paths      *pathReader
	tables     []compiledTable
	references []compiledReference
}

type compiledTable struct {
	TableRule
	key joinKey
}

type compiledReference struct {
	NamedReference
	rows   rowKind // where it is written in rows
	key    joinKey
	states map[string]pcg.State // by lower-case code
	delay  time.Duration        // from an R wave to S1
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

// checker compiles the values of a YAML file and keeps all errors, one for each
// key. What it returns after an error must not be used.
type checker struct{ errs []*yamlcheck.KeyError }

func (c *checker) fail(key, format string, args ...any) {
	c.check(key, fmt.Errorf(format, args...))
}

func (c *checker) check(key string, err error) { c.add(&yamlcheck.KeyError{Key: key, Err: err}) }

// names is check for a name that the values of other keys do not declare.
func (c *checker) names(key string, err error, others ...string) {
	c.add(&yamlcheck.KeyError{Key: key, Err: err, Depends: others})
}

func (c *checker) add(e *yamlcheck.KeyError) {
	again := func(before *yamlcheck.KeyError) bool { return before.Key == e.Key }
	if e.Err != nil && !slices.ContainsFunc(c.errs, again) {
		c.errs = append(c.errs, e)
	}
}

// err returns all errors, without their places.
func (c *checker) err() error {
	var all []error
	for _, e := range c.errs {
		all = append(all, e)
	}
	return errors.Join(all...)
}

func (c *checker) oneOf(key, value string, allowed ...string) {
	if !slices.Contains(allowed, value) {
		last := len(allowed) - 1
		c.fail(key, "%q: want %s or %s", value, strings.Join(allowed[:last], ", "), allowed[last])
	}
}

// wholeMatch compiles a regular expression that must match the whole of a text;
// nil if it is none.
func (c *checker) wholeMatch(key, text string) *regexp.Regexp {
	re, err := regexp.Compile("^(?:" + text + ")$")
	var malformed *syntax.Error
	if errors.As(err, &malformed) {
		c.fail(key, "%q is no regular expression: %v", text, malformed.Code)
		return nil
	}
	c.check(key, err)
	return re
}

// template checks a template that may use fields, or any if fields is nil.
func (c *checker) template(key, template string, fields []string) {
	for _, p := range placeholder.FindAllString(template, -1) {
		if name := p[1 : len(p)-1]; fields != nil && !slices.Contains(fields, name) {
			c.names(key, fmt.Errorf("%q: no pattern has a group %q: %s", template, name, among(name, fields)), "$.recording")
		}
	}
	if strings.ContainsAny(placeholder.ReplaceAllString(template, ""), "{}") {
		c.fail(key, "%q: a brace without its partner", template)
	}
}

// pathTemplate checks the template of a path below the data root.
func (c *checker) pathTemplate(key, template string, fields []string) {
	c.check(key, checkLocal(template))
	c.template(key, template, fields)
}

// among suggests a word, or lists all there are.
func among(word string, known []string) string {
	if near := yamlcheck.Nearest(word, known); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "there are " + strings.Join(slices.Compact(slices.Sorted(slices.Values(known))), ", ")
}

var slug = regexp.MustCompile(`^[a-z0-9][a-z0-9_-]*$`)

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
	for i, w := range l.Publications {
		if w.Title == "" || w.Year == 0 {
			c.fail(fmt.Sprintf("$.publications[%d]", i), "a publication needs at least title and year")
		}
	}
	if l.Name != "" && !slug.MatchString(l.Name) {
		c.fail("$.name", "%q: use lower-case letters, digits, - and _", l.Name)
	}
	if len(l.Recording.Patterns) == 0 {
		c.fail("$.recording.patterns", "missing: at least one regular expression over the path, such as '(?P<id>.+)\\.wav'")
	}
	paths = &pathReader{fields: map[string]string{}}
	reserved := []string{"path", "dir", "stem"}
	var captured []string
	for i, text := range l.Recording.Patterns {
		key := patternKey(i)
		re := c.wholeMatch(key, text)
		if re == nil {
			continue
		}
		paths.patterns = append(paths.patterns, re)
		for _, g := range groupsOf(re) {
			if slices.Contains(reserved, g) {
				c.fail(key, "the group name %q is reserved for the file's path", g)
			}
			captured = append(captured, g)
		}
	}
	if len(paths.patterns) < max(1, len(l.Recording.Patterns)) {
		return paths, nil // which fields there are is not known
	}
	for i, g := range l.Recording.Labels {
		if !slices.Contains(captured, g) {
			c.names(fmt.Sprintf("$.recording.labels[%d]", i), fmt.Errorf("no pattern has a group %q: %s", g, among(g, captured)), "$.recording")
		}
	}
	c.pathLabels(&l.Recording)
	return paths, slices.Concat(reserved, describing, captured)
}

// pathLabels checks what a layout says of the labels that paths hold.
func (c *checker) pathLabels(r *NameRule) {
	named := func(key, label string) {
		if !slices.Contains(r.Labels, label) {
			c.names(key, fmt.Errorf("%q is none of recording.labels: %s", label, among(label, r.Labels)), "$.recording.labels")
		}
	}
	for _, label := range slices.Sorted(maps.Keys(r.Codes)) {
		named("$.recording.codes."+label, label)
	}
	for _, label := range slices.Sorted(maps.Keys(r.Types)) {
		named("$.recording.types."+label, label)
		c.labelType("$.recording.types."+label, r.Types[label])
	}
}

func (c *checker) labelType(key, name string) {
	c.oneOf(key, cmp.Or(name, labelText), labelText, labelNumber, labelAny)
}

func patternKey(i int) string { return fmt.Sprintf("$.recording.patterns[%d]", i) }

// describing are the groups that describe a recording without being named
// elsewhere.
var describing = []string{"id", "person", "site", "take"}

// groupsOf returns the named groups of a pattern.
func groupsOf(re *regexp.Regexp) []string {
	return slices.DeleteFunc(slices.Clone(re.SubexpNames()), func(g string) bool { return g == "" })
}

// unusedGroups refuses named groups that nothing uses. Most often such a group is
// a misspelt one, and a misspelt person makes every recording a person.
func (c *checker) unusedGroups(l *Layout, paths *pathReader) {
	if len(paths.patterns) < len(l.Recording.Patterns) {
		return
	}
	var templates []string
	for i := range l.References {
		templates = append(append(templates, l.References[i].Paths...), l.References[i].Match)
	}
	for i := range l.Tables {
		templates = append(templates, l.Tables[i].Path, l.Tables[i].Match)
	}
	used := slices.Concat(describing, l.Recording.Labels)
	for _, t := range templates {
		for _, p := range placeholder.FindAllString(t, -1) {
			used = append(used, p[1:len(p)-1])
		}
	}
	for i, re := range paths.patterns {
		var unused []string
		hint := ""
		for _, g := range groupsOf(re) {
			if slices.Contains(used, g) {
				continue
			}
			unused = append(unused, strconv.Quote(g))
			if near := yamlcheck.Nearest(g, describing); near != "" {
				hint += fmt.Sprintf(" Did you mean %q?", near)
			}
		}
		if len(unused) > 0 {
			c.names(patternKey(i), fmt.Errorf("nothing uses the group %s.%s The groups %s describe a recording; "+
				"list any other in recording.labels, use it in a template, or write (?:...)", strings.Join(unused, ", "), hint, strings.Join(describing, ", ")),
				"$.recording", "$.tables", "$.references")
		}
	}
}

// stratify checks that people are spread over folds by labels of the layout.
func (c *checker) stratify(l *Layout) {
	var labels []string
	for _, s := range l.labels() {
		labels = append(labels, s.name)
	}
	for i, name := range l.Stratify {
		if !slices.Contains(labels, name) {
			c.names(fmt.Sprintf("$.stratify[%d]", i), fmt.Errorf("%q is no label of this layout: it has %s", name, strings.Join(labels, ", ")), "$.recording", "$.tables")
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
	if a.Channel != "" && !slices.ContainsFunc(a.Include, IsRecord) {
		c.fail("$.audio.channel", "%q: it names a signal of a WFDB record, and no pattern ends in .hea; give --channel for WAV files", a.Channel)
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
	c.pathTemplate(at+".path", t.Path, fields)
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
		c.labelType(label+".type", l.Type)
		c.column(label+".column", l.Column, t.Header)
	}
	return compiledTable{*t, c.joinKey(at, t.Match, t.KeyPattern, fields)}
}

// joinKey checks the template and the pattern that join rows to recordings.
func (c *checker) joinKey(at, match, pattern string, fields []string) joinKey {
	if match == "" {
		c.fail(at+".match", "missing: what is the key joined to? Write for example \"{id}\"")
	}
	c.template(at+".match", match, fields)
	if pattern == "" {
		return joinKey{}
	}
	re := c.wholeMatch(at+".key_pattern", pattern)
	if re != nil && re.SubexpIndex("key") < 0 {
		c.fail(at+".key_pattern", "has no group (?P<key>...)")
	}
	return joinKey{re}
}

// states returns the states by their codes in lower case.
func (c *checker) states(key string, codes map[string]string, soundsOnly bool) map[string]pcg.State {
	if len(codes) == 0 {
		c.fail(key, "missing: which code stands for which state?")
	}
	states := make(map[string]pcg.State, len(codes))
	for _, code := range slices.Sorted(maps.Keys(codes)) {
		at := key + "." + code
		state, err := pcg.ParseState(codes[code])
		c.check(at, err)
		if err == nil && soundsOnly && !state.IsSound() {
			c.fail(at, "a point marks S1 or S2, not %v", state)
		}
		lower := strings.ToLower(code)
		if before, ok := states[lower]; ok && before != state {
			c.fail(at, "stands for %v in another spelling", before)
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
