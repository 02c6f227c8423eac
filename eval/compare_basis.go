package eval

import (
	"fmt"

	"phonocycle/eval/tabular"
)

// sameBasis returns an error for runs that cannot be compared: fewer than two, without
// a name of their own, or with a difference other than what was predicted.
func sameBasis(runs []Run) error {
	if len(runs) < 2 {
		return fmt.Errorf("%s: give two or more", tabular.Plural(len(runs), "run", "runs"))
	}
	named := make(map[string]bool)
	for _, r := range runs {
		if r.Name == "" || named[r.Name] {
			return fmt.Errorf("two runs are named %q, or one has no name: give each its own", r.Name)
		}
		named[r.Name] = true
	}
	return sameRulesAndRecordings(runs)
}

// sameRulesAndRecordings returns an error that names the first difference between
// runs in rules or recordings.
func sameRulesAndRecordings(runs []Run) error {
	for _, r := range runs[1:] {
		if d := runs[0].Results.rules.Difference(&r.Results.rules); d != "" {
			return fmt.Errorf("runs %s and %s follow different rules, %s: score both by the same", runs[0].Name, r.Name, d)
		}
		if d := runs[0].Results.difference(&r.Results.cohort); d != "" {
			return fmt.Errorf("runs %s and %s are not on the same recordings, %s: score the same data with both", runs[0].Name, r.Name, d)
		}
	}
	return nil
}

// difference names the first recording in which a and b differ in anything
// that does not depend on the method.
func (a *cohort) difference(b *cohort) string {
	for i := range min(len(a.recordings), len(b.recordings)) {
		x, y := &a.recordings[i], &b.recordings[i]
		switch {
		case x.id != y.id:
			return fmt.Sprintf("number %d is %s against %s", i+1, x.id, y.id)
		case (x.status == Excluded) != (y.status == Excluded):
			return fmt.Sprintf("%s is %v against %v", x.id, x.status, y.status)
		case x.status == Excluded:
			continue
		case a.names[x.person] != b.names[y.person]:
			return fmt.Sprintf("%s is of person %s against %s", x.id, a.personOf(x), b.personOf(y))
		}
		for class := range Class(classes) {
			s, t := x.headline[class], y.headline[class]
			if s.tp+s.fn != t.tp+t.fn {
				return fmt.Sprintf("%s has %d reference %v against %d", x.id, s.tp+s.fn, class, t.tp+t.fn)
			}
		}
	}
	if len(a.recordings) != len(b.recordings) {
		return fmt.Sprintf("%d against %d", len(a.recordings), len(b.recordings))
	}
	return ""
}
