package segment

import (
	"math"
	"slices"

	"phonocycle/pipeline/pcg"
)

// sound is a heart sound on the frames of the Shannon energy.
type sound struct {
	state      pcg.State // S1 or S2
	at         int       // frame of the peak
	start, end int       // half-open, set by markBoundaries
	supposed   bool      // not heard, but put where the others let it be expected
}

// beat is the usual length of systole and diastole, from peak to peak, in
// frames.
type beat struct{ systole, diastole float64 }

// nameSounds appends the peaks, as sounds with their names, to dst: S1 and S2 in
// turn. There must be at least two.
//
// The longest interval that is no longer than a usual diastole may be is a diastole:
// there naming begins, forwards and then backwards, each interval held against what
// it should be.
func nameSounds(dst []sound, peaks []int) ([]sound, beat) {
	b := usualBeat(peaks)
	from := longestInterval(peaks, b.diastole*(1+tolerance))
	backwards := []sound{{state: pcg.S2, at: peaks[from-1]}}
	before := slices.Clone(peaks[:from-1])
	slices.Reverse(before)
	backwards = b.follow(backwards, before, -1)
	slices.Reverse(backwards)
	dst = append(dst, backwards...)
	return b.follow(append(dst, sound{state: pcg.S1, at: peaks[from]}), peaks[from+1:], 1), b
}

// longestInterval returns the index of the peak that ends the longest of the intervals
// that are no longer than most.
func longestInterval(peaks []int, most float64) int {
	longest, length := 1, -1
	for i := 1; i < len(peaks); i++ {
		if d := peaks[i] - peaks[i-1]; d > length && float64(d) <= most {
			longest, length = i, d
		}
	}
	return longest
}

// usualBeat returns the medians of the shorter and of the longer of two intervals that
// follow each other: wherever no sound is lost and none too many, they are a systole
// and a diastole.
func usualBeat(peaks []int) beat {
	var systoles, diastoles []float64
	for i := 2; i < len(peaks); i++ {
		d, e := float64(peaks[i-1]-peaks[i-2]), float64(peaks[i]-peaks[i-1])
		systoles, diastoles = append(systoles, min(d, e)), append(diastoles, max(d, e))
	}
	if len(systoles) == 0 {
		d := float64(peaks[1] - peaks[0])
		return beat{systole: d * systoleOfDiastole, diastole: d}
	}
	return beat{systole: quantile(systoles, 0.5), diastole: quantile(diastoles, 0.5)}
}

// quantile returns the value that the share q of x lies below, the nearest in
// rank; it sorts x, which must not be empty.
func quantile(x []float64, q float64) float64 {
	slices.Sort(x)
	return x[int(q*float64(len(x)-1)+0.5)]
}

// systoleOfDiastole stands in for a systole where a recording has a single
// interval: the ratio at 75 beats a minute (Weissler, Harris and Schoenfeld
// 1968, Circulation 37:149, with 70 ms from Q to S1; from memory).
const systoleOfDiastole = 0.65

// tolerance is the share by which an interval may differ from the usual one of
// its kind.
const tolerance = 0.25

// follow names peaks in the given direction in time, +1 or −1, from the last
// sound of dst on. An interval that is no more than usual takes the next peak;
// of one that is too short the peak is passed over, if the next one fits; in one
// that is too long a sound has been lost and is supposed.
func (b beat) follow(dst []sound, peaks []int, direction int) []sound {
	for i := 0; i < len(peaks); {
		last := dst[len(dst)-1]
		state := pcg.S1 + pcg.S2 - last.state
		usual := b.diastole
		if (last.state == pcg.S1) == (direction > 0) {
			usual = b.systole
		}
		interval := float64(direction * (peaks[i] - last.at))
		switch {
		case interval < usual*(1-tolerance) && i+1 < len(peaks) &&
			math.Abs(float64(direction*(peaks[i+1]-last.at))-usual) < math.Abs(interval-usual):
			i++
		case interval > usual*(1+tolerance) && interval >= b.systole+b.diastole*(1-tolerance):
			dst = append(dst, sound{state: state, at: last.at + direction*int(usual+0.5), supposed: true})
		default:
			dst = append(dst, sound{state: state, at: peaks[i]})
			i++
		}
	}
	return dst
}

// longestSystole is the longest usual systole, in frames: 395 ms at 40 beats a minute
// and two of its SDs of 14 ms (Weissler, as above).
const longestSystole = 0.43 * shannonRate

// regularity returns the share of n frames that lie in regular cycles: both sounds and
// the S1 that follows were heard, systole is within a fifth of the usual, and cycle
// within the tolerance.
func (b beat) regularity(sounds []sound, n int) float64 {
	if b.systole > longestSystole {
		return 0
	}
	good := 0.0
	for i := 2; i < len(sounds); i++ {
		s1, s2, next := sounds[i-2], sounds[i-1], sounds[i]
		if s1.state != pcg.S1 || s1.supposed || s2.supposed || next.supposed {
			continue
		}
		systole, cycle := float64(s2.at-s1.at), float64(next.at-s1.at)
		if math.Abs(systole-b.systole) <= b.systole/5 && math.Abs(cycle-b.systole-b.diastole) <= tolerance*(b.systole+b.diastole) {
			good += cycle
		}
	}
	return good / float64(n)
}

// Limits of the length of a sound, in frames, 40 and 160 ms: a frame count
// either side of what is measured in print (S1 70 to 150 ms, S2 60 to 120 ms;
// common values, from memory).
const (
	shortestSound = 40 * shannonRate / 1000
	longestSound  = 160 * shannonRate / 1000
)

// markBoundaries finds where each sound begins and ends: where the envelope
// falls below the share edge of the way from its quietest level to the peak,
// within the limits of a sound, and not beyond the middle between two sounds.
func markBoundaries(sounds []sound, envelope []float64, edge float64) {
	quiet := slices.Min(envelope)
	for i := range sounds {
		s := &sounds[i]
		from, to := max(0, s.at-longestSound/2), min(len(envelope), s.at+longestSound/2)
		if i > 0 {
			from = max(from, (sounds[i-1].at+s.at)/2+1)
		}
		if i+1 < len(sounds) {
			to = min(to, (s.at+sounds[i+1].at)/2)
		}
		level := quiet + edge*(envelope[s.at]-quiet)
		s.start, s.end = s.at, s.at+1
		for s.start > from && (envelope[s.start-1] > level || s.at-s.start < shortestSound/2) {
			s.start--
		}
		for s.end < to && (envelope[s.end] > level || s.end-s.at < shortestSound/2) {
			s.end++
		}
	}
}

// soundIntervals turns sounds into intervals of a recording of n samples, with
// the silences between them, and before the first and after the last.
func soundIntervals(sounds []sound, n int) []pcg.Interval {
	at := func(frame int) int { return min(frame*shannonHop, n) }
	var out []pcg.Interval
	add := func(state pcg.State, from, to int) {
		if to > from {
			out = append(out, interval(state, from, to))
		}
	}
	end := 0
	for _, s := range sounds {
		add(s.state.Exchanged().Next(), end, at(s.start))
		add(s.state, at(s.start), at(s.end))
		end = at(s.end)
	}
	add(sounds[len(sounds)-1].state.Next(), end, n)
	return out
}
