package eval

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
)

// Person is someone to assign to a fold.
type Person struct {
	ID      string
	Stratum string // folds get equal shares of each, such as murmur or age group
}

// Folds assigns people to k folds and returns their fold, 0 … k−1, in the
// order of people. Within a stratum, people stand in the order of a digest of
// seed and id and are dealt out in turn, each stratum going on where the one
// before stopped. So
//
//   - all recordings of a person are in one fold, since people are assigned;
//   - the sizes of two folds differ by at most one, over all and in a stratum;
//   - the assignment depends on seed, ids and strata alone, not on their order.
//
// The same person may be listed several times, but not with two strata.
func Folds(people []Person, k int, seed uint64) ([]int, error) {
	unique := slices.Clone(people)
	slices.SortFunc(unique, func(a, b Person) int { return cmp.Or(cmp.Compare(a.ID, b.ID), cmp.Compare(a.Stratum, b.Stratum)) })
	unique = slices.Compact(unique)
	if k < 2 || k > len(unique) {
		return nil, fmt.Errorf("%d folds of %d people: give from 2 to as many as there are people", k, len(unique))
	}
	for i, p := range unique {
		if p.ID == "" {
			return nil, fmt.Errorf("a person without a name cannot be kept within one fold: name all people")
		}
		if i > 0 && p.ID == unique[i-1].ID {
			return nil, fmt.Errorf("person %s has the strata %q and %q: give one", p.ID, unique[i-1].Stratum, p.Stratum)
		}
	}
	slices.SortFunc(unique, func(a, b Person) int {
		return cmp.Or(cmp.Compare(a.Stratum, b.Stratum), cmp.Compare(place64(seed, a.ID), place64(seed, b.ID)), cmp.Compare(a.ID, b.ID))
	})
	fold := make(map[string]int, len(unique))
	for i, p := range unique {
		fold[p.ID] = i % k
	}
	folds := make([]int, len(people))
	for i, p := range people {
		folds[i] = fold[p.ID]
	}
	return folds, nil
}

// place64 returns 64 bits of a digest of seed and id.
func place64(seed uint64, id string) uint64 {
	digest := sha256.Sum256(append(binary.BigEndian.AppendUint64(nil, seed), id...))
	return binary.BigEndian.Uint64(digest[:])
}
