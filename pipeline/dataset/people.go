package dataset

import (
	"cmp"
	"strings"
)

// people unites the names of one person (union–find with path halving; Tarjan
// 1975, doi 10.1145/321879.321884). The root of each tree is its smallest name.
type people map[string]string

// name returns the smallest name of the person called id.
func (p people) name(id string) string {
	for {
		parent, ok := p[id]
		if !ok {
			return id
		}
		if grand, ok := p[parent]; ok {
			p[id] = grand
		}
		id = parent
	}
}

// unite says that a and b are one person.
func (p people) unite(a, b string) {
	a, b = p.name(a), p.name(b)
	switch c := compareIDs(a, b); {
	case c < 0:
		p[b] = a
	case c > 0:
		p[a] = b
	}
}

// compareIDs orders whole numbers by value before all other names, which it
// orders by their bytes: 9983 comes before 14998.
func compareIDs(a, b string) int {
	aNumber, bNumber := a != "" && digits(a), b != "" && digits(b)
	switch {
	case aNumber && bNumber:
		x, y := strings.TrimLeft(a, "0"), strings.TrimLeft(b, "0")
		return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y), cmp.Compare(a, b))
	case aNumber:
		return -1
	case bNumber:
		return 1
	}
	return cmp.Compare(a, b)
}
