package compare

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"iter"

	"phonocycle/eval"
	"phonocycle/pipeline/scoring"
)

// SideBySide reads the same recordings from several folders, all or those at the
// given positions. It refuses folders that differ in recordings or references.
func SideBySide(all []*Folder, positions map[int]bool) iter.Seq2[[]*eval.Case, error] {
	return func(yield func([]*eval.Case, error) bool) {
		next := make([]func() (*eval.Case, error, bool), len(all))
		for i, f := range all {
			var stop func()
			next[i], stop = iter.Pull2(f.cases(positions))
			defer stop()
		}
		for {
			cases, inputs := make([]*eval.Case, len(all)), make([]scoredInput, len(all))
			for i := range all {
				c, err, ok := next[i]()
				if err != nil {
					yield(nil, err)
					return
				}
				if !ok {
					c = &eval.Case{}
				}
				cases[i], inputs[i] = c, inputOf(c)
				if err := sameInputs(all[0], all[i], inputs[:1], inputs[i:i+1]); err != nil {
					yield(nil, err)
					return
				}
			}
			if ended := cases[0].Recording == ""; ended || !yield(cases, nil) {
				return
			}
		}
	}
}

// scoredInput identifies a recording and its reference. Its zero value stands for
// none.
type scoredInput struct {
	recording string
	reference uint64 // checksum of the length and the reference
	leftOut   bool   // of the scores, since the person is in the training data
}

// LeftOut reports whether a recording is left out of the scores since the method
// was fitted on recordings of its person.
func LeftOut(c *eval.Case) bool { return c.Reason == scoring.ReasonOverlap }

// CheckLeftOut refuses two folders of which one scores a recording and the other
// leaves it out.
func CheckLeftOut(first, other *Folder, recording string, firstLeavesOut, otherLeavesOut bool) error {
	if firstLeavesOut == otherLeavesOut {
		return nil
	}
	leaves, scores := first, other
	if otherLeavesOut {
		leaves, scores = other, first
	}
	return fmt.Errorf("%s leaves out the people on whose recordings its method was fitted, and %s scores them, first recording %s: "+
		"compare runs that leave out the same people, or cross-validations (crossval), which score everybody",
		leaves.Name, scores.Name, recording)
}

// sameInputs reports the first recording in which two folders differ.
func sameInputs(first, other *Folder, a, b []scoredInput) error {
	for i := range max(len(a), len(b)) {
		var x, y scoredInput
		if i < len(a) {
			x = a[i]
		}
		if i < len(b) {
			y = b[i]
		}
		if x.recording != y.recording {
			return fmt.Errorf("folders %s and %s have different recordings, first %q and %q: run both on the same data",
				first.Name, other.Name, x.recording, y.recording)
		}
		if x.reference != y.reference {
			if err := CheckLeftOut(first, other, x.recording, x.leftOut, y.leftOut); err != nil {
				return err
			}
			return fmt.Errorf("folders %s and %s have different references, first of recording %s: run both on the same version of the data",
				first.Name, other.Name, x.recording)
		}
	}
	return nil
}

// inputOf identifies the input of a case.
func inputOf(c *eval.Case) scoredInput {
	h := fnv.New64a()
	var word [8]byte
	add := func(v uint64) {
		binary.LittleEndian.PutUint64(word[:], v)
		h.Write(word[:])
	}
	add(uint64(c.Length))
	for _, iv := range c.Reference.Intervals {
		add(uint64(iv.Start))
		add(uint64(iv.End))
		add(uint64(iv.State))
	}
	for _, p := range c.Reference.Points {
		add(uint64(p.At))
		add(uint64(p.Sound))
	}
	for _, u := range c.Reference.Unannotated {
		add(uint64(u.Start))
		add(uint64(u.End))
	}
	return scoredInput{c.Recording, h.Sum64(), LeftOut(c)}
}
