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
// The longest interval is taken for a diastole. Around it intervals alternate;
// the medians of the two kinds, the longer that of diastoles, are the usual beat.
// An interval well beyond a usual diastole has lost a sound: the longest that has
// not is where naming begins, forwards and then backwards, each interval held
// against what it should be.
func nameSounds(dst []sound, peaks []int) ([]sound, beat) {
	b, first := usualBeat(peaks, longestInterval(peaks, 1, 1, math.Inf(1)))
	from := longestInterval(peaks, first, 2, b.diastole*(1+tolerance))
	backwards := []sound{{state: pcg.S2, at: peaks[from-1]}}
	before := slices.Clone(peaks[:from-1])
	slices.Reverse(before)
	backwards = b.follow(backwards, before, -1)
	slices.Reverse(backwards)
	dst = append(dst, backwards...)
	return b.follow(append(dst, sound{state: pcg.S1, at: peaks[from]}), peaks[from+1:], 1), b
}

// longestInterval returns the index of the peak that ends the longest interval of
// those that end at first, first + step, … and are no longer than most.
func longestInterval(peaks []int, first, step int, most float64) int {
	longest, length := first, -1
	for i := first; i < len(peaks); i += step {
		if d := peaks[i] - peaks[i-1]; d > length && float64(d) <= most {
			longest, length = i, d
		}
	}
	return longest
}

// usualBeat returns the medians of the two kinds of intervals if they alternate,
// the longer that of diastoles, and the index of the peak that ends the first
// diastole. The kind of peaks[longest] is a diastole's if there is but one
// interval.
func usualBeat(peaks []int, longest int) (b beat, first int) {
	var kinds [2][]float64
	for i := 1; i < len(peaks); i++ {
		kind := (i - longest) & 1
		kinds[kind] = append(kinds[kind], float64(peaks[i]-peaks[i-1]))
	}
	first = 2 - longest%2
	b.diastole = quantile(kinds[0], 0.5)
	b.systole = b.diastole * systoleOfDiastole
	if len(kinds[1]) > 0 {
		b.systole = quantile(kinds[1], 0.5)
	}
	if b.systole > b.diastole {
		return beat{systole: b.diastole, diastole: b.systole}, 3 - first
	}
	return b, first
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

// regularity returns the share of the sounds that were heard and lie in systoles
// within a fifth of the median.
func (b beat) regularity(sounds []sound) float64 {
	good, all := 0, 0
	for i := 1; i < len(sounds); i++ {
		if sounds[i].state != pcg.S2 {
			continue
		}
		all++
		systole := float64(sounds[i].at - sounds[i-1].at)
		if !sounds[i].supposed && !sounds[i-1].supposed && math.Abs(systole-b.systole) <= b.systole/5 {
			good++
		}
	}
	if all == 0 {
		return 0
	}
	return float64(good) / float64(all)
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
