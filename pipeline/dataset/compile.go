package dataset

import (
	"fmt"
	"strings"
)

// compile returns l as it is used.
func (l *Layout) compile() (*compiledLayout, error) {
	p, c := l.check()
	return p, c.err()
}

// reference returns the named reference, or the first if the name is empty. A
// layout without references has none to read.
func (l *compiledLayout) reference(name string) (*compiledReference, error) {
	if name == "" && len(l.references) == 0 {
		return &compiledReference{}, nil
	}
	var names []string
	for i := range l.references {
		if r := &l.references[i]; name == "" || r.Name == name {
			return r, nil
		}
		names = append(names, l.references[i].Name)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("no reference %q: it describes none; leave --reference out", name)
	}
	return nil, fmt.Errorf("no reference %q: it has %s", name, strings.Join(names, ", "))
}

// check compiles l. The checker has all errors.
func (l *Layout) check() (*compiledLayout, *checker) {
	c := &checker{}
	paths, fields := c.paths(l)
	p := &compiledLayout{paths: paths}
	c.audio(&l.Audio)
	for i := range l.Tables {
		p.tables = append(p.tables, c.table(fmt.Sprintf("$.tables[%d]", i), &l.Tables[i], fields))
	}
	c.stratify(l)
	p.references = c.references(l, fields)
	if l.SingleReference == nil {
		c.unusedGroups(l, paths)
	}
	return p, c
}

// references checks the references of a layout and their names.
func (c *checker) references(l *Layout, fields []string) []compiledReference {
	if l.SingleReference != nil {
		c.fail("$.reference", "a layout lists its references, the default first: write \"references:\", below it \"  - name: states\", "+
			"and below that the keys of the reference, four spaces further right than \"references\"")
	}
	var compiled []compiledReference
	seen := map[string]bool{}
	for i := range l.References {
		r := &l.References[i]
		at := fmt.Sprintf("$.references[%d]", i)
		switch {
		case !slug.MatchString(r.Name):
			c.fail(at+".name", "%q: use lower-case letters, digits, - and _, such as states", r.Name)
		case seen[r.Name]:
			c.fail(at+".name", "%q: another reference has this name", r.Name)
		}
		seen[r.Name] = true
		p := c.reference(at, &r.ReferenceRule, fields)
		p.Name = r.Name
		compiled = append(compiled, p)
	}
	return compiled
}

// reference checks the rule of a reference at a key.
func (c *checker) reference(at string, r *ReferenceRule, fields []string) compiledReference {
	p := compiledReference{NamedReference: NamedReference{ReferenceRule: *r}, rows: referenceKinds[r.Kind].rows}
	c.oneOf(at+".kind", string(r.Kind), kindNames()...)
	if len(r.Paths) == 0 {
		c.fail(at+".paths", "missing: where is the reference, such as \"{dir}/{id}.tsv\"?")
	}
	for i, t := range r.Paths {
		c.pathTemplate(fmt.Sprintf("%s.paths[%d]", at, i), t, fields)
	}
	if kind, ok := referenceKinds[r.Kind]; ok {
		kind.check(c, at, &p, fields)
	}
	return p
}
