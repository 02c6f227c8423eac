package eval

import "fmt"

// CheckDisjoint returns an error that names the first person of scored who is
// also among fitted. A method that was fitted on a person knows that person's
// heart, and its score on them says nothing of others.
func CheckDisjoint(fitted, scored []string) error {
	known := make(map[string]bool, len(fitted))
	for _, p := range fitted {
		known[p] = true
	}
	for _, p := range scored {
		if p != "" && known[p] {
			return fmt.Errorf("person %s was used for fitting and is to be scored: fit on other people, or score others", p)
		}
	}
	return nil
}
