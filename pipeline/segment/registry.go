package segment

import (
	"fmt"
	"strings"
)

// Methods returns all methods, from the simplest to the most demanding.
func Methods() []Method {
	return []Method{shannonPeaks, durationHMM, logisticHSMM, convHSMM}
}

// Lookup returns the method of the given name.
func Lookup(name string) (Method, error) {
	var names []string
	for _, m := range Methods() {
		if m.Name == name {
			return m, nil
		}
		names = append(names, m.Name)
	}
	return Method{}, fmt.Errorf("unknown method %q: want one of %s", name, strings.Join(names, ", "))
}
