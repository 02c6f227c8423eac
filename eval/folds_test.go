package eval

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestFoldsAreBalancedAndIgnoreOrder(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	for range 300 {
		people := make([]Person, 2+random.IntN(60))
		for i := range people {
			people[i] = Person{fmt.Sprintf("p%d", i), fmt.Sprintf("s%d", random.IntN(4))}
		}
		k, seed := 2+random.IntN(min(9, len(people)-1)), random.Uint64()
		folds, err := Folds(people, k, seed)
		if err != nil {
			t.Fatal(err)
		}
		if len(folds) != len(people) {
			t.Fatalf("%d people have a fold, want %d", len(folds), len(people))
		}
		sizes := map[string][]int{}
		for _, p := range people {
			for _, group := range []string{"all", p.Stratum} {
				if sizes[group] == nil {
					sizes[group] = make([]int, k)
				}
				sizes[group][folds[p.ID]]++
			}
		}
		for group, n := range sizes {
			lo, hi := n[0], n[0]
			for _, v := range n {
				lo, hi = min(lo, v), max(hi, v)
			}
			if hi-lo > 1 {
				t.Fatalf("%s: folds of %v people", group, n)
			}
		}
		random.Shuffle(len(people), func(i, j int) { people[i], people[j] = people[j], people[i] })
		again, err := Folds(people, k, seed)
		if err != nil {
			t.Fatal(err)
		}
		if !maps.Equal(folds, again) {
			t.Fatal("another order of people gives other folds")
		}
		for f := range k {
			var fitted, scored []string
			for id, g := range folds {
				if g == f {
					scored = append(scored, id)
				} else {
					fitted = append(fitted, id)
				}
			}
			if err := CheckDisjoint(fitted, scored); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestFoldsDependOnTheSeed(t *testing.T) {
	people := make([]Person, 40)
	for i := range people {
		people[i].ID = fmt.Sprint(i)
	}
	a, _ := Folds(people, 5, 1)
	b, _ := Folds(people, 5, 2)
	if maps.Equal(a, b) {
		t.Error("two seeds give the same folds")
	}
}

func TestFoldsRefuse(t *testing.T) {
	for _, tt := range []struct {
		people []Person
		k      int
		want   string
	}{
		{[]Person{{"a", ""}, {"b", ""}}, 1, "at least 2"},
		{[]Person{{"a", ""}, {"b", ""}}, 3, "no more than"},
		{[]Person{{"a", "x"}, {"a", "y"}}, 2, "person a is listed twice"},
		{[]Person{{"a", ""}, {"", ""}}, 2, "person 2 has no name"},
	} {
		if _, err := Folds(tt.people, tt.k, 1); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v in %d: error %v, want one with %q", tt.people, tt.k, err, tt.want)
		}
	}
}

func TestCheckDisjointNamesThePerson(t *testing.T) {
	err := CheckDisjoint([]string{"b", "c", "a"}, []string{"d", "c", "b", "c"})
	if err == nil || !strings.Contains(err.Error(), "2 people are both fitted and scored, first b:") {
		t.Errorf("error %v", err)
	}
}
