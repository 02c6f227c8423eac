package segment

import (
	"math"
	"slices"

	"phonocycle/pipeline/signal"
)

// peakPicker finds the peaks of an envelope that may be heart sounds, as
// indices of frames in ascending order. It owns buffers.
type peakPicker struct {
	peaks     []int
	intervals []float64
}

// pick finds one peak a stretch above the threshold, takes out those that are
// too many and looks again, more closely, where some seem lost.
func (p *peakPicker) pick(envelope []float64, o *shannonOptions, threshold float64) []int {
	p.peaks = peaksAbove(p.peaks[:0], envelope, 0, len(envelope), threshold)
	p.mergeSplit(envelope, int(o.Split*shannonRate+0.5))
	p.dropExtra(envelope, o)
	p.recoverLost(envelope, o)
	return p.peaks
}

// peaksAbove appends the largest frame of each stretch of envelope[from:to]
// above the threshold.
func peaksAbove(dst []int, envelope []float64, from, to int, threshold float64) []int {
	top := -1
	for t := from; t < to; t++ {
		switch {
		case envelope[t] <= threshold:
			if top >= 0 {
				dst = append(dst, top)
			}
			top = -1
		case top < 0 || envelope[t] > envelope[top]:
			top = t
		}
	}
	if top >= 0 {
		dst = append(dst, top)
	}
	return dst
}

// mergeSplit makes one of peaks that are at most gap frames apart: the first,
// unless it is less than half as high as the second.
func (p *peakPicker) mergeSplit(envelope []float64, gap int) {
	kept := p.peaks[:0]
	for _, t := range p.peaks {
		last := len(kept) - 1
		switch {
		case last < 0 || t-kept[last] > gap:
			kept = append(kept, t)
		case envelope[kept[last]] < envelope[t]/2:
			kept[last] = t
		}
	}
	p.peaks = kept
}

// limits returns the mean interval between peaks less and plus the given
// number of standard deviations.
func (p *peakPicker) limits(sds float64) (low, high float64) {
	p.intervals = p.intervals[:0]
	for i := 1; i < len(p.peaks); i++ {
		p.intervals = append(p.intervals, float64(p.peaks[i]-p.peaks[i-1]))
	}
	mean, sd := signal.MeanSD(p.intervals)
	return mean - sds*sd, mean + sds*sd
}

// shortestSystole is the least share of a cycle that one sound follows the
// other by: two fifths of the fastest cycle bound the intervals from below.
const shortestSystole = 0.4

// dropExtra takes out the lower of two peaks as long as some interval is
// suspiciously short, the shortest first.
func (p *peakPicker) dropExtra(envelope []float64, o *shannonOptions) {
	for len(p.peaks) > 2 {
		low, _ := p.limits(o.Limits)
		low = math.Max(low, shortestSystole*o.shortestCycle()*shannonRate)
		k := 1
		for i := 2; i < len(p.peaks); i++ {
			if p.peaks[i]-p.peaks[i-1] < p.peaks[k]-p.peaks[k-1] {
				k = i
			}
		}
		if float64(p.peaks[k]-p.peaks[k-1]) >= low {
			return
		}
		if envelope[p.peaks[k-1]] < envelope[p.peaks[k]] {
			k--
		}
		p.peaks = slices.Delete(p.peaks, k, k+1)
	}
}

// recoverLost looks for a sound in each interval that is suspiciously long:
// the first peak to appear, away from the sounds at its ends, as the threshold
// is lowered to the floor.
func (p *peakPicker) recoverLost(envelope []float64, o *shannonOptions) {
	low, high := p.limits(o.Limits)
	guard := int(math.Max(low, shortestSystole*o.shortestCycle()*shannonRate))
	for i := 1; i < len(p.peaks); i++ {
		from, to := p.peaks[i-1]+guard, p.peaks[i]-guard+1
		if float64(p.peaks[i]-p.peaks[i-1]) <= high || from >= to {
			continue
		}
		if t := highestMaximum(envelope, from, to); t >= 0 && envelope[t] > o.Floor {
			p.peaks = slices.Insert(p.peaks, i, t)
		}
	}
}

// highestMaximum returns the place of the highest local maximum of the envelope
// in [from, to), or −1 if there is none.
func highestMaximum(envelope []float64, from, to int) int {
	top := -1
	for t := max(from, 1); t < min(to, len(envelope)-1); t++ {
		if envelope[t] > envelope[t-1] && envelope[t] >= envelope[t+1] && (top < 0 || envelope[t] > envelope[top]) {
			top = t
		}
	}
	return top
}
