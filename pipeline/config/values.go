package config

import (
	"fmt"
	"time"
)

// Overlap says what happens where a method would be scored on people of its own
// training data: such scores say nothing about other people.
type Overlap string

// What can happen to people of the training data.
const (
	RefuseOverlap   Overlap = "refuse"    // an error that names the first of them
	LeaveOutOverlap Overlap = "leave-out" // they are not scored, and counted with that reason
	ScoreOverlap    Overlap = "score"     // they are scored, and every score says so
)

func (o *Overlap) String() string { return string(*o) }

// UnmarshalText takes any text; Config.Check refuses unknown values.
func (o *Overlap) UnmarshalText(text []byte) error {
	*o = Overlap(text)
	return nil
}

// UnreadTables says what happens where a layout tells people apart by a table
// that is missing or cannot be read.
type UnreadTables string

// What can happen where people cannot be told apart.
const (
	RefuseUnreadTables UnreadTables = "refuse" // an error that names the table, for what fits or scores
	AcceptUnreadTables UnreadTables = "accept" // a warning beside all results
)

func (u *UnreadTables) String() string { return string(*u) }

// UnmarshalText takes any text; Config.Check refuses unknown values.
func (u *UnreadTables) UnmarshalText(text []byte) error {
	*u = UnreadTables(text)
	return nil
}

// Shard is machine Index, from 1, of the Of machines that share a run. The zero
// value stands for a run on one machine.
type Shard struct{ Index, Of int }

// Duration is a time.Duration that YAML, JSON and flags write as "60ms".
type Duration time.Duration

func (d Duration) String() string               { return time.Duration(d).String() }
func (d Duration) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a number with its unit.
func (d *Duration) UnmarshalText(text []byte) error {
	v, err := time.ParseDuration(string(text))
	if err != nil {
		return fmt.Errorf("%q is not a time with its unit, such as 60ms or 2m", text)
	}
	*d = Duration(v)
	return nil
}

// String returns i/n, or the empty string for a run on one machine.
func (s Shard) String() string {
	if s.Of == 0 {
		return ""
	}
	return fmt.Sprintf("%d/%d", s.Index, s.Of)
}

// UnmarshalText reads i/n.
func (s *Shard) UnmarshalText(text []byte) error {
	var v Shard
	var rest string
	if n, _ := fmt.Sscanf(string(text)+"\n", "%d/%d%s\n", &v.Index, &v.Of, &rest); n != 2 || v.Index < 1 || v.Of < v.Index {
		return fmt.Errorf("shard %q: write i/n with i from 1 to n, such as 3/8", text)
	}
	*s = v
	return nil
}

// MarshalText is the inverse of UnmarshalText.
func (s Shard) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Has reports whether part p of the plan belongs to this shard.
func (s Shard) Has(p int) bool { return s.Of == 0 || p%s.Of == s.Index-1 }
