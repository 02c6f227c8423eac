package compare

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"iter"
	"time"

	"phonocycle/eval"
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
			cases := make([]*eval.Case, len(all))
			ended := 0
			for i := range all {
				c, err, ok := next[i]()
				if err != nil {
					yield(nil, err)
					return
				}
				if !ok {
					c = &eval.Case{}
					ended++
				}
				cases[i] = c
			}
			if ended == len(all) {
				return
			}
			if err := sameReference(all, cases); err != nil {
				yield(nil, err)
				return
			}
			if !yield(cases, nil) {
				return
			}
		}
	}
}

// sameReference makes sure that the cases of all folders are of one recording and
// reference.
func sameReference(all []*Folder, cases []*eval.Case) error {
	for i, c := range cases[1:] {
		first, other := all[0].Name, all[i+1].Name
		if c.Recording != cases[0].Recording {
			return fmt.Errorf("folders %s and %s have different recordings: %q and %q", first, other, cases[0].Recording, c.Recording)
		}
		if referenceSum(c) != referenceSum(cases[0]) {
			return fmt.Errorf("folders %s and %s have different references of recording %s", first, other, c.Recording)
		}
	}
	return nil
}

// referenceSum returns a checksum of the length and the reference of a recording.
func referenceSum(c *eval.Case) uint64 {
	h := fnv.New64a()
	var word [8]byte
	add := func(v uint64) {
		binary.LittleEndian.PutUint64(word[:], v)
		h.Write(word[:])
	}
	at := func(t time.Duration) { add(uint64(t)) }
	at(c.Length)
	for _, iv := range c.Reference.Intervals {
		at(iv.Start)
		at(iv.End)
		add(uint64(iv.State))
	}
	for _, p := range c.Reference.Points {
		at(p.At)
		add(uint64(p.Sound))
	}
	return h.Sum64()
}
