package eval

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// Person is one to assign to a fold, with the stratum of which each fold gets its
// share.
type Person struct{ ID, Stratum string }

// Folds assigns people to k folds, numbered from 0, for cross-validation.
// Splitting by person keeps recordings of one person on one side. Sizes of the
// folds differ by one at most, overall and within each stratum.
//
// The assignment depends on seed and on the set of people, not on their order:
// people of a stratum are sorted by a digest of seed and ID and dealt out in
// turn, one stratum after another.
func Folds(people []Person, k int, seed uint64) (map[string]int, error) {
	if k < 2 || k > len(people) {
		return nil, fmt.Errorf("folds: %d folds for %d people: give at least 2 and no more than there are people", k, len(people))
	}
	type card struct {
		Person
		digest [sha256.Size]byte
	}
	cards := make([]card, len(people))
	for i, p := range people {
		if p.ID == "" {
			return nil, fmt.Errorf("folds: person %d has no name: people whose identity is unknown cannot be kept on one side", i+1)
		}
		cards[i] = card{p, sha256.Sum256(append(binary.LittleEndian.AppendUint64(nil, seed), p.ID...))}
	}
	slices.SortFunc(cards, func(a, b card) int {
		if c := strings.Compare(a.Stratum, b.Stratum); c != 0 {
			return c
		}
		return bytes.Compare(a.digest[:], b.digest[:])
	})
	fold := make(map[string]int, len(people))
	for i, c := range cards {
		if _, twice := fold[c.ID]; twice {
			return nil, fmt.Errorf("folds: person %s is listed twice: list each once, with one stratum", c.ID)
		}
		fold[c.ID] = i % k
	}
	return fold, nil
}

// CheckDisjoint returns an error that names the first person, in order of
// names, who is among both the fitted and the scored. Scores of people on whom
// a method was fitted say nothing about others.
func CheckDisjoint(fitted, scored []string) error {
	among := make(map[string]bool, len(fitted))
	for _, id := range fitted {
		among[id] = true
	}
	var both []string
	for _, id := range scored {
		if among[id] {
			both = append(both, id)
		}
	}
	if len(both) == 0 {
		return nil
	}
	slices.Sort(both)
	both = slices.Compact(both)
	return fmt.Errorf("%s both fitted and scored, first %s: score people on whom the method was not fitted, as crossval does",
		tabular.Plural(len(both), "person is", "people are"), both[0])
}
