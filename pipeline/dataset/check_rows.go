package dataset

import (
	"fmt"
	"slices"
	"strings"

	"phonocycle/pipeline/pcg"
)

// rows checks the keys of a reference that is written in rows.
func (c *checker) rows(at string, p *compiledReference, fields []string) {
	r := &p.ReferenceRule
	if r.Signal != "" || r.Delay != "" {
		c.fail(at+".kind", "%s: signal and delay belong to a reference of kind %s", r.Kind, pcg.ECGReference)
	}
	c.matlab(at, r)
	c.delimiter(at+".delimiter", r.Delimiter)
	c.oneOf(at+".header", r.Header, headerPresent, headerAbsent, headerOptional)
	for _, role := range p.rows.roles {
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
	p.states = c.states(at+".states", r.States, p.rows.soundsOnly)
	if r.Key == "" {
		if r.Match != "" || r.KeyPattern != "" {
			c.fail(at+".key", "missing: which column names the recording?")
		}
		return
	}
	if len(r.Paths) != 1 || strings.Contains(r.Paths[0], "{") {
		c.fail(at+".paths", "a reference with a key column is one table: want one path without {}")
	}
	if r.Header == headerOptional {
		c.fail(at+".header", "a reference with a key column: want present or absent")
	}
	c.column(at+".key", r.Key, r.Header)
	p.key = c.joinKey(at, r.Match, r.KeyPattern, fields)
}

// matlab checks what a reference says of MATLAB files.
func (c *checker) matlab(at string, r *ReferenceRule) {
	switch i := slices.IndexFunc(r.Paths, isMatlab); {
	case i < 0 && r.Variable != "":
		c.fail(at+".variable", "%q: no path ends in .mat", r.Variable)
	case i >= 0 && r.Key != "":
		c.fail(fmt.Sprintf("%s.paths[%d]", at, i), "a table of all recordings is text: leave key out, or export the table as text")
	case i >= 0 && r.Variable == "":
		c.fail(at+".variable", "missing: which variable of the MATLAB files holds the rows?")
	}
}
