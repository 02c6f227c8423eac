package dataset

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// maxRepair is the longest overlap of two rows, or time before the recording,
// that counts as rounding and is repaired: common practice, one and a half steps
// of the 20 ms grid of most open interval annotations. It equals the longest gap
// that scoring closes.
const maxRepair = 30 * time.Millisecond

// repairer repairs the rows of one annotation and collects their defects.
type repairer struct {
	file    string
	length  time.Duration // of the recording; 0 if unknown
	defects []Defect
}

// rowKind is what the rows of a kind of reference hold, and how they become one.
type rowKind struct {
	roles      []role // columns in their usual order
	soundsOnly bool   // states are S1 and S2 only
	repair     func(r *repairer, rows []row) pcg.Reference
}

// row is one row of an annotation.
type row struct {
	line       int
	start, end time.Duration // end of intervals only
	code       string
	state      pcg.State
	known      bool // the code is one of the layout's
}

func (p *repairer) found(t defectType, line int, args ...any) {
	p.defects = append(p.defects, t.at(p.file, line, args...))
}

// line names a line of the file, or a row of a MATLAB file.
func (p *repairer) line(n int) string { return fmt.Sprintf("%s %d", lineWord(p.file), n) }

// row names the row of a line.
func (p *repairer) row(n int) string {
	if isMatlab(p.file) {
		return p.line(n)
	}
	return "row of " + p.line(n)
}

// maxRepairs is the number of repairs of one kind that are listed one by one. The
// others are counted.
const maxRepairs = 5

// finish sorts the defects, sets their recording and lists the repairs: the first
// of each kind in the order of lines, then for each kind the number of the others
// and where they begin and end, as in
//
//	a.csv: 37 more of "overlapping rows" in lines 53 to 240: the earlier row ends where this one starts
func (p *repairer) finish(ref *pcg.Reference, recording string) {
	type kind struct {
		Kind
		action string
	}
	type lines struct{ count, first, last int } // first and last beyond those listed
	found := map[kind]*lines{}
	var kinds []kind // in the order of their first lines
	sortDefects(p.defects)
	for i := range p.defects {
		d := &p.defects[i]
		d.Recording = recording
		if !d.repaired {
			continue
		}
		k := kind{d.Kind, d.Action}
		l := found[k]
		if l == nil {
			l = &lines{}
			found[k], kinds = l, append(kinds, k)
		}
		if l.count++; l.count <= maxRepairs {
			ref.Repairs = append(ref.Repairs, d.String())
			continue
		}
		if l.first == 0 {
			l.first = d.Line
		}
		l.last = d.Line
	}
	for _, k := range kinds {
		if l := found[k]; l.count > maxRepairs {
			ref.Repairs = append(ref.Repairs, fmt.Sprintf("%s: %d more of %q in %ss %d to %d: %s",
				Printable(p.file), l.count-maxRepairs, k.Kind, lineWord(p.file), l.first, l.last, k.action))
		}
	}
}

// intervals repairs rows of start, end and state.
func (p *repairer) intervals(rows []row) []pcg.Interval {
	rows = p.cut(p.separate(p.sort(p.dropUnusable(rows))))
	intervals := make([]pcg.Interval, 0, len(rows))
	for _, r := range rows {
		if r.state != pcg.Unannotated {
			intervals = append(intervals, pcg.Interval{Start: r.start, End: r.end, State: r.state})
		}
	}
	return intervals
}

// dropUnusable drops rows of zero length, whatever their code, and rows that end
// before they start, start before the recording or have an unknown code.
func (p *repairer) dropUnusable(rows []row) []row {
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case r.end < r.start:
			p.found(endFirst, r.line, seconds(r.end), seconds(r.start))
			continue
		case r.end == r.start:
			p.found(zeroLength, r.line, shorten(r.code), seconds(r.start))
			continue
		case !r.known:
			p.found(stateUnknown, r.line, shorten(r.code))
			continue
		case r.start < -maxRepair:
			p.found(startTooEarly, r.line, seconds(r.start))
			continue
		case r.start < 0:
			p.found(startEarly, r.line, seconds(r.start))
			if r.start = 0; r.end <= 0 {
				continue
			}
		}
		kept = append(kept, r)
	}
	return kept
}

// sort brings rows into time order. Each row has its own state, so nothing is
// lost.
func (p *repairer) sort(rows []row) []row {
	for i := 1; i < len(rows); i++ {
		if rows[i].start < rows[i-1].start {
			p.found(unsorted, rows[i].line, seconds(rows[i].start), p.line(rows[i-1].line), seconds(rows[i-1].start))
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(a.start, b.start) })
	return rows
}

// separate makes sorted rows disjoint and reports gaps and states out of order.
func (p *repairer) separate(rows []row) []row {
	kept := make([]row, 0, len(rows))
	for _, r := range rows {
		if len(kept) == 0 {
			kept = append(kept, r)
			continue
		}
		before := &kept[len(kept)-1]
		excess := before.end - r.start
		switch {
		case r.start == before.start && r.end == before.end && r.state == before.state:
			p.found(rowTwice, r.line, p.row(before.line))
			continue
		case excess > maxRepair || excess > 0 && r.start == before.start:
			p.found(overlapLong, r.line, milliseconds(excess), p.row(before.line), seconds(before.end))
		case excess > 0:
			p.found(overlap, r.line, milliseconds(excess), p.row(before.line), seconds(before.end))
			before.end = r.start
		case excess < 0:
			p.found(gap, r.line, milliseconds(-excess), p.row(before.line), seconds(before.end))
		}
		if before.state != pcg.Unannotated && r.state != pcg.Unannotated && r.state != before.state.Next() {
			p.found(stateOrder, r.line, r.state, before.state, p.line(before.line), before.state.Next())
		}
		kept = append(kept, r)
	}
	return kept
}

// cut cuts disjoint rows at the end of the recording.
func (p *repairer) cut(rows []row) []row {
	if p.length <= 0 {
		return rows
	}
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case r.start >= p.length:
			p.found(startLate, r.line, seconds(r.start), seconds(p.length))
			continue
		case r.end > p.length:
			p.found(endLate, r.line, seconds(r.end), seconds(p.length))
			r.end = p.length
		}
		kept = append(kept, r)
	}
	return kept
}

// addEnds gives each row of start and state its end, the start of the next. The
// last row has none and is dropped.
func (p *repairer) addEnds(rows []row) []row {
	for i := range rows {
		if i > 0 && rows[i].start < rows[i-1].start {
			p.found(startsBack, rows[i].line, seconds(rows[i].start), p.line(rows[i-1].line), seconds(rows[i-1].start))
			return nil
		}
		if i+1 < len(rows) {
			rows[i].end = rows[i+1].start
		}
	}
	return rows[:max(0, len(rows)-1)]
}

// points repairs rows of time and sound.
func (p *repairer) points(rows []row) []pcg.Point {
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case !r.known:
			p.found(stateUnknown, r.line, shorten(r.code))
			continue
		case r.start < 0:
			p.found(startTooEarly, r.line, seconds(r.start))
			continue
		case p.length > 0 && r.start >= p.length:
			p.found(pointLate, r.line, seconds(r.start), seconds(p.length))
			continue
		}
		kept = append(kept, r)
	}
	kept = p.exchange(kept)
	points := make([]pcg.Point, 0, len(kept))
	for i, r := range kept {
		if i > 0 {
			before := kept[i-1]
			switch {
			case r.start == before.start && r.state == before.state:
				p.found(pointTwice, r.line, p.line(before.line))
				continue
			case r.start == before.start:
				p.found(soundsAtOnce, r.line, p.line(before.line))
			case r.state == before.state:
				p.found(soundOrder, r.line, r.state, before.state, p.line(before.line))
			}
		}
		points = append(points, pcg.Point{At: r.start, Sound: r.state})
	}
	return points
}

// exchange repairs two neighbouring points in reverse order. Either their times
// were exchanged or their rows. If S1 and S2 alternate around them in one of the
// two readings only, that reading is taken.
func (p *repairer) exchange(rows []row) []row {
	for i := 1; i < len(rows); i++ {
		if rows[i].start >= rows[i-1].start {
			continue
		}
		a, b := &rows[i-1], &rows[i]
		fits := (i < 2 || rows[i-2].start < b.start) && (i+1 >= len(rows) || a.start < rows[i+1].start)
		asWritten := alternates(rows, i, a.state, b.state)
		exchanged := alternates(rows, i, b.state, a.state)
		if !fits || asWritten == exchanged {
			p.found(startsBack, b.line, seconds(b.start), p.line(a.line), seconds(a.start))
			continue
		}
		exchange := rowsExchanged
		if asWritten {
			exchange = timesExchanged
		}
		p.found(exchange, b.line, b.state, seconds(b.start), a.state, p.line(a.line), seconds(a.start))
		if asWritten {
			a.start, b.start = b.start, a.start
		} else {
			*a, *b = *b, *a
		}
	}
	return rows
}

// alternates reports whether S1 and S2 alternate from row i−2 to i+1 when rows
// i−1 and i are of states first and second.
func alternates(rows []row, i int, first, second pcg.State) bool {
	if first == second {
		return false
	}
	return (i < 2 || rows[i-2].state != first) && (i+1 >= len(rows) || rows[i+1].state != second)
}
