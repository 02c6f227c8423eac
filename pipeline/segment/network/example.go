package network

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// Example is one annotated recording to learn from.
type Example struct {
	Recording, Person string
	Input             Matrix         // as FrontEnd.Fine returns it
	Copies            []Matrix       // the same of changed copies of the recording, if any
	Frames            int            // as FrontEnd.Frames counts them
	Intervals         []pcg.Interval // the reference: sorted, disjoint
}

// heard draws what a window is learnt from: with probability share one of the copies,
// where there are any, else the recording as it is. Without copies it draws no number.
func (e *Example) heard(share float64, rng *rand.Rand) Matrix {
	if n := len(e.Copies); n > 0 && rng.Float64() < share {
		return e.Copies[rng.IntN(n)]
	}
	return e.Input
}

// spanGap is the longest gap between two intervals of one annotated span.
const spanGap = 100 * time.Millisecond

// window is a stretch of an example that one step learns from.
type window struct {
	example    int
	start, end float64 // of the annotated stretch, in frames
}

// windows cuts the annotated spans of an example, of the given index, into windows
// of at most longest frames, equal within each span.
func (e *Example) windows(index, longest int) []window {
	var ws []window
	ivs := e.Intervals
	for i := 0; i < len(ivs); {
		j := i + 1
		for j < len(ivs) && ivs[j].Start-ivs[j-1].End <= spanGap {
			j++
		}
		start, end := inFrames(ivs[i].Start), inFrames(ivs[j-1].End)
		pieces := math.Ceil((end - start) / float64(longest))
		for k := range int(pieces) {
			at := func(k int) float64 { return start + float64(k)*(end-start)/pieces }
			ws = append(ws, window{index, at(k), at(k + 1)})
		}
		i = j
	}
	return ws
}

// inFrames returns t in frames.
func inFrames(t time.Duration) float64 { return t.Seconds() * FrameRate }

// cursor reads labels off a reference at times that do not decrease.
type cursor struct {
	intervals []pcg.Interval
	next      int
}

// label returns the label at t frames: that of S1 is 0, as in pcg.Cycle.
func (c *cursor) label(t float64) int8 {
	at := pcg.FromSeconds(t / FrameRate)
	for c.next < len(c.intervals) && c.intervals[c.next].End <= at {
		c.next++
	}
	if c.next == len(c.intervals) || !c.intervals[c.next].Contains(at) {
		return unlabelled
	}
	return int8(c.intervals[c.next].State - pcg.S1)
}

// interpolate fills column t of in with the input, that of an example, at c frames.
func interpolate(in, input Matrix, t int, c float64) {
	at := min(c*fine, float64(input.Cols-1))
	k := min(int(at), input.Cols-2)
	share := float32(at - float64(k))
	for b := range in.Rows {
		row := input.Data[b*input.Stride+k:]
		in.Data[b*in.Stride+t] = row[0] + share*(row[1]-row[0])
	}
}

// check reports what makes the example unfit to learn from for a network with
// the given number of bands.
func (e *Example) check(bands int) error {
	wrap := func(format string, args ...any) error {
		return fmt.Errorf("recording %s: %w", e.Recording, fmt.Errorf(format, args...))
	}
	switch {
	case e.Input.Rows != bands:
		return wrap("%d bands where the network reads %d: measure it with the network's front end", e.Input.Rows, bands)
	case e.Frames < 1 || e.Input.Cols < 2:
		return wrap("%d frames: too short to learn from", e.Frames)
	case slices.ContainsFunc(e.Input.Data, notFinite):
		return wrap("input is not finite")
	}
	for k, c := range e.Copies {
		if c.Rows != e.Input.Rows || c.Cols != e.Input.Cols || slices.ContainsFunc(c.Data, notFinite) {
			return wrap("copy %d is not finite, or not of %d × %d values as the recording", k+1, e.Input.Rows, e.Input.Cols)
		}
	}
	for i, iv := range e.Intervals {
		if iv.State < pcg.S1 || iv.State > pcg.Diastole || iv.End <= iv.Start || i > 0 && iv.Start < e.Intervals[i-1].End {
			return wrap("interval %d, %v, is not a state of positive length after the one before", i, iv)
		}
	}
	return nil
}
