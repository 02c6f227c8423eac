package segment

import (
	"fmt"

	"phonocycle/pipeline/segment/option"
)

// valueRange is a parameter of a model with the range that it must lie in, both ends
// included. What may be chosen is an [option.Option].
type valueRange struct {
	name             string // as the file has it
	value, low, high float64
}

// checkRanges returns an error for the first value out of its range.
func checkRanges(values ...valueRange) error {
	for _, v := range values {
		if !option.InRange(v.value, v.low, v.high) {
			return fmt.Errorf("%s is %g: want %g to %g", v.name, v.value, v.low, v.high)
		}
	}
	return nil
}

// Standard deviations of sojourns lie between a microsecond, as of a metronome, and
// a second. By smaller ones no frame can be divided, and larger ones would make
// grids without bound.
const (
	leastSojournSD = 1e-6
	mostSojournSD  = 1
)
