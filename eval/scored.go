package eval

import (
	"sort"
	"time"

	"phonocycle/pipeline/pcg"
)

// span is a stretch of scored time, half-open like an interval.
type span struct{ start, end time.Duration }

// stretches appends to dst the scored time of annotated intervals: their
// union, with gaps of up to gap closed, in order.
func stretches(dst []span, intervals []pcg.Interval, gap time.Duration) []span {
	for _, iv := range intervals {
		if n := len(dst); n > 0 && iv.Start-dst[n-1].end <= gap {
			dst[n-1].end = max(dst[n-1].end, iv.End)
			continue
		}
		dst = append(dst, span{iv.Start, iv.End})
	}
	return dst
}

// stretchOf returns the index of the stretch that holds t, or −1.
func stretchOf(stretches []span, t time.Duration) int32 {
	i := sort.Search(len(stretches), func(i int) bool { return stretches[i].end > t })
	if i < len(stretches) && stretches[i].start <= t {
		return int32(i)
	}
	return -1
}

// around returns the scored time of a point reference: from its first to its
// last point, widened by the tolerance. Since a tolerance is inclusive, so is
// the end of this stretch.
func around(points []pcg.Point, tolerance time.Duration) span {
	first, last := points[0].At, points[len(points)-1].At
	return span{first - tolerance, last + tolerance + 1}
}

// total returns the length of all stretches within a recording that lasts
// length, or as they stand if length is zero.
func total(stretches []span, length time.Duration) time.Duration {
	var sum time.Duration
	for _, s := range stretches {
		start, end := max(s.start, 0), s.end
		if length > 0 {
			end = min(end, length)
		}
		sum += max(end-start, 0)
	}
	return sum
}
