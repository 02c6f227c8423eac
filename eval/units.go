package eval

import (
	"fmt"
	"math"
	"time"
)

// UnitCheck looks over the references of one data set for the marks of a wrong
// unit or rate in its layout: the last state of nearly all references ends before
// 55 % of its recording, or the heart rate of most is half or double the one that
// the sound has. The limits are ours. Its zero value has seen nothing.
type UnitCheck struct {
	ends, early         int // references whose recording has a known length, and those that end early
	rates, half, double int // recordings of which both heart rates are known, and what they say
}

const (
	leastForUnits = 5
	earlyEnd      = 55 // % of the recording
	nearlyAll     = 0.9
	mostOf        = 2. / 3
	rateMargin    = 0.12 // of the expected ratio of two rates
)

// Add adds a recording: where its reference ends, its length, and its heart rates
// by the reference and by the sound in beats per minute, null where unknown.
func (u *UnitCheck) Add(end, length time.Duration, reference, sound Ratio) {
	if length > 0 {
		u.ends++
		if 100*end < earlyEnd*length {
			u.early++
		}
	}
	near := func(want float64) bool { return math.Abs(float64(reference/sound)/want-1) <= rateMargin }
	if reference > 0 && sound > 0 { // else null
		u.rates++
		if near(0.5) {
			u.half++
		}
		if near(2) {
			u.double++
		}
	}
}

// Warnings says what is suspect of a data set, and by whose account of the sound.
func (u *UnitCheck) Warnings(dataSet, by string) []string {
	const remedy = "check unit and base of the reference in the layout, and whether the recordings have the sampling rate that its numbers of samples count at"
	var list []string
	if u.ends >= leastForUnits && float64(u.early) >= nearlyAll*float64(u.ends) {
		list = append(list, fmt.Sprintf("data set %s: the reference of %d of %d recordings ends before 55 %% of the recording: %s", dataSet, u.early, u.ends, remedy))
	}
	for _, f := range []struct {
		name string
		n    int
	}{{"half", u.half}, {"double", u.double}} {
		if u.rates >= leastForUnits && float64(f.n) >= mostOf*float64(u.rates) {
			list = append(list, fmt.Sprintf("data set %s: the heart rate of the reference is %s %s in %d of %d recordings: %s", dataSet, f.name, by, f.n, u.rates, remedy))
		}
	}
	return list
}
