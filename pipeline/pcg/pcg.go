// Package pcg holds the words of phonocardiography as types: the four states
// of the heart cycle, the intervals and points in which annotators write them
// down, the recording they belong to and the segmentation that a method finds.
//
// # The cardiac cycle as it sounds
//
// The first heart sound, S1, accompanies the closing of the mitral and the
// tricuspid valve, when the ventricles begin to contract. The second, S2,
// accompanies the closing of the aortic and the pulmonary valve, when they
// begin to relax. The silence from S1 to S2 is systole, the ventricles
// ejecting; the silence from S2 to the next S1 is diastole, the ventricles
// filling. A healthy heart repeats
//
//	S1 → systole → S2 → diastole → S1 → …
//
// and never in another order, which is what every method in this project
// builds on.
//
// # Time
//
// Times are integers: nanoseconds since the first sample, held as
// time.Duration. They are compared as integers and printed in seconds, so that
// an event exactly at the edge of a tolerance lies on the same side on every
// machine.
package pcg

import (
	"fmt"
	"strings"
)

// State is one of the four states of the cardiac cycle, or Unannotated where
// the annotator said nothing.
type State uint8

// The states, in the order in which a heart runs through them.
const (
	Unannotated State = iota
	S1
	Systole
	S2
	Diastole
)

// Cycle lists the four states in their order.
var Cycle = [4]State{S1, Systole, S2, Diastole}

var stateNames = [...]string{"unannotated", "S1", "systole", "S2", "diastole"}

// String returns the name of s as it stands in tables and reports.
func (s State) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return fmt.Sprintf("State(%d)", uint8(s))
}

// ParseState is the inverse of String and ignores case.
func ParseState(name string) (State, error) {
	for s, n := range stateNames {
		if strings.EqualFold(name, n) {
			return State(s), nil
		}
	}
	return Unannotated, fmt.Errorf("unknown state %q: want one of %s", name, strings.Join(stateNames[:], ", "))
}

// IsSound reports whether s is one of the two sounds, S1 or S2.
func (s State) IsSound() bool { return s == S1 || s == S2 }

// Next returns the state that follows s in the cycle. Unannotated has no
// successor and returns itself.
func (s State) Next() State {
	if s == Unannotated {
		return s
	}
	return s%4 + 1
}

// Exchanged returns the state that s becomes when the two halves of the cycle
// are taken for one another: S1 for S2, systole for diastole.
func (s State) Exchanged() State {
	if s == Unannotated {
		return s
	}
	return (s+1)%4 + 1
}
