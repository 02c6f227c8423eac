package table

import (
	"errors"
	"fmt"
)

// vectorReader holds the state of a list column within a row group and the
// vectors of the current batch, which lie one after another in floats or bytes:
// vector i at offsets[i]:offsets[i+1].
type vectorReader struct {
	floats  []float32
	bytes   []uint8
	offsets []int

	// Levels and values decoded ahead of the rows handed out.
	levels, nextLevel int
	values, nextValue int
}

func (v *vectorReader) reset() { v.levels, v.nextLevel, v.values, v.nextValue = 0, 0, 0, 0 }

// levelsAhead is the number of elements that are decoded at a time.
const levelsAhead = 4096

// readVectors decodes the lists of the next n rows. In the levels of a list
// column a repetition level of 0 begins a row and 1 continues it; the
// definition level says whether there is an element, or how much is missing.
func (s *columnReader) readVectors(n int) error {
	v := &s.vectors
	v.floats, v.bytes, v.offsets = v.floats[:0], v.bytes[:0], append(v.offsets[:0], 0)
	for row := -1; ; {
		more, err := s.fill()
		if err != nil {
			return err
		}
		size := len(v.floats) + len(v.bytes)
		if !more || s.rep[v.nextLevel] == 0 { // the row is complete
			if row >= 0 {
				if got := size - v.offsets[row]; s.at[row] >= 0 && s.Length > 0 && got != s.Length {
					return fmt.Errorf("a vector of %d elements, want %d", got, s.Length)
				}
				v.offsets = append(v.offsets, size)
			}
			if row++; row == n {
				return nil
			}
			if !more {
				return fmt.Errorf("%d rows where %d were promised", row, n)
			}
			// Below defMin the list is empty or missing; one below that, missing.
			if s.at[row] = row; s.def[v.nextLevel] < s.defMin-1 {
				s.at[row] = -1
			}
		} else if row < 0 {
			return errors.New("a row begins in the middle of a list")
		} else if size-v.offsets[row] >= maxVector {
			return fmt.Errorf("a list of more than %d elements", maxVector)
		}
		if err := s.takeElement(); err != nil {
			return err
		}
	}
}

// takeElement moves the next element, if its level says there is one, to the
// vector of the current row.
func (s *columnReader) takeElement() error {
	v := &s.vectors
	def := s.def[v.nextLevel]
	v.nextLevel++
	if def < s.defMin {
		return nil
	}
	if def < s.descr.MaxDefinitionLevel() {
		return errors.New("a missing element in a list")
	}
	if v.nextValue >= v.values {
		return errors.New("fewer elements than promised")
	}
	if s.Kind == FloatVector {
		v.floats = append(v.floats, s.packed.floats[v.nextValue])
	} else {
		x := s.packed.int32s[v.nextValue]
		if x < 0 || x > 255 {
			return fmt.Errorf("element %d does not fit into a byte", x)
		}
		v.bytes = append(v.bytes, uint8(x))
	}
	v.nextValue++
	return nil
}

// fill decodes ahead where nothing is left and reports whether there is a level
// to take.
func (s *columnReader) fill() (bool, error) {
	v := &s.vectors
	if v.nextLevel < v.levels {
		return true, nil
	}
	if v.nextValue != v.values {
		return false, errors.New("more elements than promised")
	}
	if !s.chunk.HasNext() {
		return false, s.chunk.Err()
	}
	levels, values, err := s.decode(levelsAhead)
	v.levels, v.nextLevel = int(levels), 0
	v.values, v.nextValue = values, 0
	return levels > 0, err
}
