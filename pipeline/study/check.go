package study

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/yamlcheck"
)

// Bounds of a study file.
const (
	maxNameRunes = 80
	maxCells     = 10_000
)

// checker collects what is wrong with the values of a study file. What can only be seen
// with the data or with the files that a study names at hand is left to its cells.
type checker struct {
	file *File
	errs []*yamlcheck.KeyError
}

func (c *checker) fail(key, format string, values ...any) {
	c.failOn(nil, key, format, values...)
}

// failOn is fail for an error that may be there only because another key is wrong.
func (c *checker) failOn(depends []string, key, format string, values ...any) {
	c.errs = append(c.errs, &yamlcheck.KeyError{Key: key, Err: fmt.Errorf(format, values...), Depends: depends})
}

// failWith adds an error, if there is one, at a key.
func (c *checker) failWith(key string, err error) {
	if err != nil {
		c.fail(key, "%w", err)
	}
}

func (c *checker) check() {
	f := c.file
	if strings.TrimSpace(f.Title) == "" {
		c.fail("$.title", "missing: say in a line what the study compares")
	}
	checkList(c, "data-sets", f.DataSets, func(s *DataSet) string { return s.Name }, c.dataSet)
	checkList(c, "methods", f.Methods, func(m *Method) string { return m.Name }, c.method)
	c.conditions("$.conditions", f.Conditions, nil)
	checkList(c, "designs", f.Designs, func(d *Design) string { return d.Name }, c.design)
	run := config.Default()
	run.Scoring = f.scoring()
	c.failWith("$.scoring", run.Check())
	if n := len(f.Methods) * len(f.Conditions) * len(f.Designs); n > maxCells {
		c.fail("$", "%d methods x %d designs x %d conditions are more than %d cells: make several studies with the same --out, which share their models",
			len(f.Methods), len(f.Designs), len(f.Conditions), maxCells)
	}
}

// checkList checks the entries of a list, each of which has a name.
func checkList[T any](c *checker, key string, list []T, name func(*T) string, check func(key string, entry *T)) {
	key = "$." + key
	if len(list) == 0 {
		c.fail(key, "missing: a study needs at least one")
	}
	first := map[string]int{}
	for i := range list {
		at, n := fmt.Sprintf("%s[%d]", key, i), name(&list[i])
		other, twice := first[n]
		switch {
		case n == "":
			c.fail(at+".name", "missing: give each entry a name")
		case strings.TrimSpace(n) != n || strings.ContainsFunc(n, func(r rune) bool { return r == '/' || !unicode.IsPrint(r) }) || utf8.RuneCountInString(n) > maxNameRunes:
			c.fail(at+".name", "%q: a name has at most %d characters, no / and no space at its ends", n, maxNameRunes)
		case twice:
			c.fail(at+".name", "%q is the name of entry %d already: give each a name of its own", n, other+1)
		default:
			first[n] = i
		}
		check(at, &list[i])
	}
}

func (c *checker) dataSet(key string, s *DataSet) {
	if s.Folder == "" {
		c.fail(key+".folder", "missing: name the folder of the data set")
	}
	switch {
	case s.Layout == "":
		c.fail(key+".layout", "missing: name a layout: %s, or a YAML file", strings.Join(dataset.LayoutNames(), ", "))
	case !isLayoutFile(s.Layout):
		c.failWith(key+".layout", func() error { _, err := dataset.LoadLayout(s.Layout); return err }())
	}
	c.reference(key, s, s.Reference)
	if s.People != "" && !config.IsFile(s.People) {
		_, err := config.LoadPeople(s.People)
		c.failWith(key+".people", err)
	}
}

// reference checks the name of a reference of a data set with a built-in layout.
func (c *checker) reference(key string, s *DataSet, name string) {
	if s == nil || name == "" || s.Layout == "" || isLayoutFile(s.Layout) {
		return
	}
	layout, err := dataset.LoadLayout(s.Layout)
	if err != nil {
		return
	}
	var names []string
	for _, r := range layout.References {
		names = append(names, r.Name)
	}
	if !slices.Contains(names, name) {
		c.fail(key+".reference", "%s", unknown("reference of layout "+s.Layout, name, names))
	}
}

// method checks a method that is built in, with its options. The file of a program or of
// a run configuration is opened when a cell needs it.
func (c *checker) method(key string, m *Method) {
	switch {
	case m.Method == "" && m.Config == "":
		c.fail(key, "name its method with the key method, or a run configuration with the key config")
		return
	case m.Method != "" && m.Config != "":
		c.fail(key, "it has both keys method and config: a run configuration names the method, so leave one of them out")
		return
	case config.IsFile(m.Method) || config.IsFile(m.Config):
		return
	}
	run := config.Default()
	at := key + ".method"
	var err error
	if m.Config != "" {
		at = key + ".config"
		if run, err = config.Load(m.Config); err != nil {
			c.fail(at, "%w", err)
			return
		}
	} else {
		run.Method = m.Method
	}
	if _, err := run.LoadFit(); err != nil {
		c.fail(at, "%w", err)
		return
	}
	for _, part := range []struct {
		key   string
		merge func(*config.Config) error
	}{
		{"options", func(r *config.Config) error { return r.MergeOptions(m.Options, nil) }},
		{"fit", func(r *config.Config) error { return r.MergeOptions(nil, m.Fit) }},
	} {
		changed := run
		err := part.merge(&changed)
		if err == nil {
			_, err = changed.LoadFit()
		}
		c.failWith(key+"."+part.key, err)
	}
	if m.Model != "" && !config.IsFile(m.Model) {
		run.Model = m.Model
		_, err := run.LoadMethod()
		c.failWith(key+".model", err)
	}
}

// conditions checks a list of conditions, which must be among those allowed unless
// these are nil.
func (c *checker) conditions(key string, list, allowed []string) {
	var seen []string
	for i, text := range list {
		at := fmt.Sprintf("%s[%d]", key, i)
		name, err := canonical(text)
		switch {
		case err != nil:
			c.fail(at, "%w", err)
			continue
		case slices.Contains(seen, name):
			c.fail(at, "%s stands here twice: leave it out", conditionName(name))
		case allowed != nil && !slices.Contains(allowed, name):
			c.failOn([]string{"$.conditions"}, at, "the study has no condition %s: add it to the list conditions of the study", conditionName(name))
		}
		seen = append(seen, name)
	}
}

func (c *checker) design(key string, d *Design) {
	f := c.file
	kinds := 0
	for _, value := range []string{d.CrossValidate, d.FitOn, d.Model} {
		if value != "" {
			kinds++
		}
	}
	switch {
	case kinds != 1:
		c.fail(key, "give one of these: cross-validate with a data set; fit-on and score-on with one each; model: builtin and score-on with a data set")
	case d.CrossValidate != "" && d.ScoreOn != "":
		c.fail(key+".score-on", "a cross-validation scores the data set that it fits to: leave this key out")
	case d.CrossValidate == "" && d.ScoreOn == "":
		c.fail(key+".score-on", "missing: name the data set that is scored")
	case d.Model != "" && d.Model != config.BuiltinModel:
		c.fail(key+".model", "%q: want %s; the model of a method of your own stands with the method", d.Model, config.BuiltinModel)
	}
	if d.CrossValidate == "" && (d.Folds != nil || d.FoldSeed != nil) {
		c.fail(key, "folds and fold-seed belong to a design with cross-validate")
	}
	if d.Folds != nil && *d.Folds < 2 {
		c.fail(key+".folds", "%d: a cross-validation needs at least 2", *d.Folds)
	}
	c.failWith(key+".training-overlap", d.checkOverlap())
	for _, name := range []struct{ key, value string }{{"cross-validate", d.CrossValidate}, {"fit-on", d.FitOn}, {"score-on", d.ScoreOn}} {
		if name.value != "" && f.dataSet(name.value) == nil {
			c.failOn([]string{"$.data-sets"}, key+"."+name.key, "%s", unknown("data set", name.value, namesOf(f.DataSets, func(s *DataSet) string { return s.Name })))
		}
	}
	c.reference(key, f.dataSet(d.scored()), d.Reference)
	methods := namesOf(f.Methods, func(m *Method) string { return m.Name })
	for i, name := range d.Methods {
		at := fmt.Sprintf("%s.methods[%d]", key, i)
		if !slices.Contains(methods, name) {
			c.failOn([]string{"$.methods"}, at, "%s", unknown("method", name, methods))
		} else if slices.Contains(d.Methods[:i], name) {
			c.fail(at, "%s stands here twice: leave it out", name)
		}
	}
	allowed := []string{}
	for _, text := range f.Conditions {
		if name, err := canonical(text); err == nil {
			allowed = append(allowed, name)
		}
	}
	c.conditions(key+".conditions", d.Conditions, allowed)
}

// checkOverlap returns an error for an unknown value.
func (d *Design) checkOverlap() error {
	run := config.Default()
	if d.Overlap != "" {
		run.Overlap = d.Overlap
	}
	if run.Check() != nil {
		return errors.New("want refuse, leave-out or score")
	}
	return nil
}

func namesOf[T any](list []T, name func(*T) string) []string {
	names := make([]string, len(list))
	for i := range list {
		names[i] = name(&list[i])
	}
	return names
}

// unknown says that a name is none of the known ones, and suggests one or lists them.
func unknown(what, name string, known []string) string {
	if near := yamlcheck.Nearest(name, known); near != "" {
		return fmt.Sprintf("no %s is called %q: did you mean %q?", what, name, near)
	}
	return fmt.Sprintf("no %s is called %q: there are %s", what, name, strings.Join(known, ", "))
}
