package dataset

import (
	"math/rand/v2"
	"slices"
	"testing"
)

func TestCompareIDs(t *testing.T) {
	got := []string{"b", "14998", "9983", "a", "007", "7", ""}
	slices.SortFunc(got, compareIDs)
	want := []string{"007", "7", "9983", "14998", "", "a", "b"}
	if !slices.Equal(got, want) {
		t.Errorf("sorted %q, want %q", got, want)
	}
}

// Whatever the order in which pairs become known, the name is the smallest of
// all that hang together.
func TestPeopleAreNamedByTheSmallest(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	pairs := [][2]string{{"50379", "23625"}, {"9", "10"}, {"10", "11"}, {"12", "11"}, {"x", "12"}, {"40", "30"}, {"30", "40"}}
	for range 50 {
		r.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
		p := people{}
		for _, ids := range pairs {
			p.unite(ids[0], ids[1])
		}
		for id, want := range map[string]string{
			"50379": "23625", "23625": "23625", "x": "9", "12": "9", "11": "9", "9": "9", "40": "30", "99": "99",
		} {
			if got := p.name(id); got != want {
				t.Fatalf("after %v: name(%s) = %s, want %s", pairs, id, got, want)
			}
		}
	}
}
