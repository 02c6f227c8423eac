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

// scoredTime appends to dst the scored time of a reference: for intervals the
// annotated time, for points from the first to the last, widened by the tolerance,
// without the time that is not annotated. Since a tolerance is inclusive, so is
// the end of the last stretch.
func scoredTime(dst []span, ref *pcg.Reference, gap, tolerance time.Duration) []span {
	if len(ref.Points) == 0 {
		return stretches(dst, ref.Intervals, gap)
	}
	start, end := ref.Points[0].At-tolerance, ref.Points[len(ref.Points)-1].At+tolerance+1
	for _, u := range ref.Unannotated {
		if u.End <= start || u.Start >= end {
			continue
		}
		if u.Start > start {
			dst = append(dst, span{start, u.Start})
		}
		start = u.End
	}
	if start < end {
		dst = append(dst, span{start, end})
	}
	return dst
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
