package degrade

import (
	"fmt"
	"strings"
)

// Condition is a list of changes in their order. The zero value changes nothing.
type Condition struct{ steps []step }

// step is a change of a condition.
type step struct {
	kind string // its key
	change
}

// kinds lists the kinds of change.
var kinds = []kind{noiseKind, rateKind, bitsKind, clipKind, lowCutKind, highCutKind, gapsKind}

// Examples returns an example of each kind of change.
func Examples() []string {
	var list []string
	for _, k := range kinds {
		list = append(list, k.example)
	}
	return list
}

// Empty reports whether the condition changes nothing.
func (c *Condition) Empty() bool { return len(c.steps) == 0 }

// String returns the condition as [Parse] reads it, in its one form: no spaces, and
// numbers in their shortest form. Recorded noise is named by its folder as written or,
// once [Condition.Open] has read it, by the last part of the path and a digest, so that
// it depends on no machine.
func (c *Condition) String() string {
	parts := make([]string, len(c.steps))
	for i, s := range c.steps {
		parts[i] = s.String()
	}
	return strings.Join(parts, ",")
}

// Open reads the recorded noise of the condition, if it has any. Copies of c share it.
// It must be called before a recording is changed.
func (c *Condition) Open() error {
	for _, s := range c.steps {
		if n, ok := s.change.(*addedNoise); ok && n.recorded != nil {
			if err := n.recorded.open(); err != nil {
				return fmt.Errorf("condition %s: %w", c, err)
			}
		}
	}
	return nil
}
