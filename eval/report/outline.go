package report

import (
	"cmp"
	"encoding/base64"
	"encoding/binary"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"phonocycle/pipeline/pcg"
)

// SectionWidth is the longest section of a recording that a page shows: some ten
// beats. An outline holds times up to 2^13 ms.
const SectionWidth = 8 * time.Second

const (
	// traceStep is the step of the trace of an envelope.
	traceStep = 25 * time.Millisecond

	// maxBoundaries is how many boundaries the outline of a recording holds, of all
	// its tracks together. Rates of 200 beats per minute have some 110 in each track.
	maxBoundaries = 400
)

// Codes of an outline after those of the four states.
const (
	codeNothing = 0
	codePoint   = 4 // added to the state of a point: 5 for S1, 7 for S2
	codeUnknown = 6 // time in which the reference does not know the beats
)

// boundary is a place in a track where something begins, or a point.
type boundary struct {
	at   time.Duration // from the start of the section
	code uint16
}

// outline returns what the script of a page draws of a section: for the reference and
// each track its boundaries in base64, two bytes each, the lower first: the time from
// the start of the section in milliseconds in the upper 13 bits, what begins there in
// the lower 3. It also returns where the outline ends: at the end of the section or
// before the first boundary for which there is no room.
func (v *View) outline() (tracks []string, to time.Duration) {
	list := [][]boundary{v.boundaries(v.Reference.Intervals, v.Reference.Points, v.Reference.Unannotated)}
	for i := range v.Tracks {
		list = append(list, v.boundaries(v.Tracks[i].Intervals, v.Tracks[i].Points, nil))
	}
	length, room := v.To-v.From, maxBoundaries/len(list)
	for _, track := range list {
		if len(track) > room {
			length = min(length, track[room].at)
		}
	}
	for _, track := range list {
		var content []byte
		for _, b := range track {
			if b.at <= length {
				content = binary.LittleEndian.AppendUint16(content, uint16(b.at.Milliseconds())<<3|b.code)
			}
		}
		tracks = append(tracks, base64.StdEncoding.EncodeToString(content))
	}
	return tracks, v.From + length
}

// boundaries returns the boundaries of one track in the order of time.
func (v *View) boundaries(intervals []pcg.Interval, points []pcg.Point, unknown []pcg.Interval) []boundary {
	var list []boundary
	end := time.Duration(-1)
	add := func(from, to time.Duration, code uint16) {
		if n := len(list); n > 0 && end == from {
			list[n-1] = boundary{from, code} // in place of the end of the last one
		} else {
			list = append(list, boundary{from, code})
		}
		list, end = append(list, boundary{to, codeNothing}), to
	}
	for _, iv := range v.within(intervals) {
		add(iv.Start-v.From, iv.End-v.From, uint16(iv.State))
	}
	for _, u := range unknown {
		if a, b := max(u.Start, v.From), min(u.End, v.To); a < b {
			add(a-v.From, b-v.From, codeUnknown)
		}
	}
	for _, p := range v.pointsWithin(points) {
		list = append(list, boundary{p.At - v.From, codePoint + uint16(p.Sound)})
	}
	slices.SortStableFunc(list, func(a, b boundary) int { return cmp.Compare(a.at, b.at) })
	return list
}

// pointsWithin returns the points that lie in the view.
func (v *View) pointsWithin(points []pcg.Point) []pcg.Point {
	var list []pcg.Point
	for _, p := range points {
		if p.At >= v.From && p.At < v.To {
			list = append(list, p)
		}
	}
	return list
}

// Trim forgets what lies outside the section.
func (v *View) Trim() {
	v.Reference.Intervals, v.Reference.Points = v.within(v.Reference.Intervals), v.pointsWithin(v.Reference.Points)
	for i := range v.Tracks {
		t := &v.Tracks[i]
		t.Intervals, t.Points = v.within(t.Intervals), v.pointsWithin(t.Points)
	}
}

// trace returns the envelope of the section as one byte for each traceStep: its mean
// there, on a scale on which 255 is the annotated peak.
func (v *View) trace() []byte {
	peak := v.annotatedPeak(v.Envelope, v.EnvelopeRate)
	step := pcg.ToSamples(traceStep, v.EnvelopeRate)
	var trace []byte
	for part := range slices.Chunk(v.Envelope, max(step, 1)) {
		level := 0.0
		if peak > 0 {
			level = math.Round(255 * min(max(stat.Mean(part, nil)/peak, 0), 1))
		}
		trace = append(trace, uint8(level))
	}
	return trace
}
