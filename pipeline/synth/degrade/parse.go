package degrade

import (
	"fmt"
	"slices"
	"strings"

	"phonocycle/pipeline/yamlcheck"
)

// Bounds of what is parsed: far more than a condition has.
const (
	maxText  = 2000 // bytes
	maxSteps = 16
)

// pair is a key with its value.
type pair struct{ key, value string }

// Parse reads a condition as it is written on a command line or in a file: key=value,
// separated by commas; see the package comment. The empty text is the empty condition.
// The same text has the same meaning everywhere. Errors name the key and say what to
// write.
func Parse(text string) (Condition, error) {
	if strings.TrimSpace(text) == "" {
		return Condition{}, nil
	}
	if len(text) > maxText {
		return Condition{}, fmt.Errorf("condition of %d bytes: at most %d", len(text), maxText)
	}
	pairs, err := split(text)
	if err != nil {
		return Condition{}, err
	}
	var c Condition
	for len(pairs) > 0 {
		s, n, err := parseStep(pairs)
		if err != nil {
			return Condition{}, err
		}
		c.steps, pairs = append(c.steps, s), pairs[n:]
	}
	if n := len(c.steps); n > maxSteps {
		return Condition{}, fmt.Errorf("condition of %d changes: at most %d", n, maxSteps)
	}
	return c, nil
}

// split takes a condition apart.
func split(text string) ([]pair, error) {
	var pairs []pair
	for part := range strings.SplitSeq(text, ",") {
		key, value, found := strings.Cut(part, "=")
		p := pair{strings.TrimSpace(key), strings.TrimSpace(value)}
		if !found || p.key == "" || p.value == "" {
			return nil, fmt.Errorf("condition: %q is not key=value: write for example %s", strings.TrimSpace(part), kinds[0].example)
		}
		pairs = append(pairs, p)
	}
	return pairs, nil
}

// parseStep reads the change at the start of the pairs, and says how many of them it
// takes.
func parseStep(pairs []pair) (s step, n int, err error) {
	first := pairs[0]
	i := slices.IndexFunc(kinds, func(k kind) bool { return k.key == first.key })
	if i < 0 {
		return s, 0, unknown(first.key)
	}
	k, more := kinds[i], ""
	if n = 1; k.more != "" {
		if len(pairs) == 1 || pairs[1].key != k.more {
			return s, 0, fmt.Errorf("condition: %s=%s needs the key %s behind it: write for example %s", first.key, first.value, k.more, k.example)
		}
		n, more = 2, pairs[1].value
	}
	s.kind = k.key
	if s.change, err = k.make(first.value, more); err != nil {
		return s, 0, fmt.Errorf("condition: %w", err)
	}
	return s, n, nil
}

// unknown says what is wrong with a key that begins no change.
func unknown(key string) error {
	var keys, all []string
	for _, k := range kinds {
		if k.more == key {
			return fmt.Errorf("condition: the key %s belongs behind %s: write for example %s", key, k.key, k.example)
		}
		keys, all = append(keys, k.key), append(all, k.key)
		if k.more != "" {
			all = append(all, k.more)
		}
	}
	if near := yamlcheck.Nearest(key, all); near != "" {
		return fmt.Errorf("condition: unknown key %q: did you mean %s?", key, near)
	}
	return fmt.Errorf("condition: unknown key %q: there are %s", key, strings.Join(keys, ", "))
}
