package dataset

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// MaxMend is the longest overlap of two rows, or time before the recording,
// that passes for rounding and is mended: common practice, one and a half steps
// of the 20 ms grid on which most of the open interval annotations lie. It equals
// the longest gap that scoring closes.
const MaxMend = 30 * time.Millisecond

// mender collects what is found and done while one annotation is mended.
type mender struct {
	file    string
	length  time.Duration
	defects []Defect
}

// row is an entry with its times in nanoseconds.
type row struct {
	line       int
	start, end time.Duration
	code       string
	state      pcg.State
	known      bool
}

func (m *mender) note(line int, kind Kind, action, format string, args ...any) {
	m.defects = append(m.defects, Defect{File: m.file, Line: line, Kind: kind, Message: fmt.Sprintf(format, args...), Action: action})
}

// fix is note for what changes the reference.
func (m *mender) fix(line int, kind Kind, action, format string, args ...any) {
	m.note(line, kind, action, format, args...)
	m.defects[len(m.defects)-1].mends = true
}

// refuse is note for what can be read in more than one way.
func (m *mender) refuse(line int, kind Kind, format string, args ...any) {
	m.note(line, kind, "", format, args...)
	m.defects[len(m.defects)-1].Excludes = true
}

// mend turns entries into a reference.
func (m *mender) mend(p *referenceProgram, entries []entry, rate int) pcg.Reference {
	ref := pcg.Reference{Kind: p.Kind}
	rows, ok := m.times(p, entries, rate)
	if !ok {
		return ref
	}
	switch p.Kind {
	case pcg.PointReference:
		ref.Points = m.points(rows)
	case pcg.StateStartsReference:
		ref.Intervals = m.intervals(m.close(rows))
	default:
		ref.Intervals = m.intervals(rows)
	}
	if ref.Empty() && !slices.ContainsFunc(m.defects, func(d Defect) bool { return d.Excludes }) {
		m.refuse(0, KindNothing, "no annotated state in it")
	}
	return ref
}

// times brings the entries to nanoseconds.
func (m *mender) times(p *referenceProgram, entries []entry, rate int) ([]row, bool) {
	if p.Unit == unitSamples && rate <= 0 {
		m.refuse(0, KindAudio, "its times are in samples, and the sampling rate of the recording is unknown")
		return nil, false
	}
	rows := make([]row, 0, len(entries))
	for _, e := range entries {
		r := row{line: e.line, start: time.Duration(e.start), end: time.Duration(e.end), code: e.code, state: e.state, known: e.known}
		if p.Unit == unitSamples {
			var err error
			if r.start, err = sampleTime(e.start, rate); err == nil {
				r.end, err = sampleTime(e.end, rate)
			}
			if err != nil {
				m.refuse(e.line, KindNotNumber, "sample %d at %d Hz: %v", e.start, rate, err)
				continue
			}
		}
		rows = append(rows, r)
	}
	return rows, true
}

// intervals mends rows of start, end and state.
func (m *mender) intervals(rows []row) []pcg.Interval {
	rows = m.dropUnusable(rows)
	rows = m.sort(rows)
	rows = m.part(rows)
	rows = m.cut(rows)
	intervals := make([]pcg.Interval, 0, len(rows))
	for _, r := range rows {
		if r.state != pcg.Unannotated {
			intervals = append(intervals, pcg.Interval{Start: r.start, End: r.end, State: r.state})
		}
	}
	return intervals
}

// dropUnusable drops rows without length and refuses those that run backwards,
// begin before the recording or have an unknown code. A row without length
// says nothing, whatever its code.
func (m *mender) dropUnusable(rows []row) []row {
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case r.end < r.start:
			m.refuse(r.line, KindBackwards, "end %s before start %s", seconds(r.end), seconds(r.start))
			continue
		case r.end == r.start:
			m.fix(r.line, KindNoLength, "row dropped", "row of state %q without length at %s", shorten(r.code), seconds(r.start))
			continue
		case !r.known:
			m.refuse(r.line, KindCode, "state %q is none of the layout's codes", shorten(r.code))
			continue
		case r.start < -MaxMend:
			m.refuse(r.line, KindNegative, "start %s lies before the recording", seconds(r.start))
			continue
		case r.start < 0:
			m.fix(r.line, KindNegative, "moved to the start of the recording", "start %s lies before the recording", seconds(r.start))
			if r.start = 0; r.end <= 0 {
				continue
			}
		}
		kept = append(kept, r)
	}
	return kept
}

// sort brings rows into the order of time, which changes nothing that they
// say: each carries its own state.
func (m *mender) sort(rows []row) []row {
	for i := 1; i < len(rows); i++ {
		if rows[i].start < rows[i-1].start {
			m.fix(rows[i].line, KindUnsorted, "rows sorted by start", "start %s comes before that of line %d, %s",
				seconds(rows[i].start), rows[i-1].line, seconds(rows[i-1].start))
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(a.start, b.start) })
	return rows
}

// part makes sorted rows disjoint and reports gaps and broken orders.
func (m *mender) part(rows []row) []row {
	kept := make([]row, 0, len(rows))
	for _, r := range rows {
		if len(kept) == 0 {
			kept = append(kept, r)
			continue
		}
		before := &kept[len(kept)-1]
		overlap := before.end - r.start
		switch {
		case r.start == before.start && r.end == before.end && r.state == before.state:
			m.fix(r.line, KindRepeated, "row dropped", "the row of line %d again", before.line)
			continue
		case overlap > MaxMend || overlap > 0 && r.start == before.start:
			m.refuse(r.line, KindOverlap, "begins %s before the row of line %d ends at %s", milliseconds(overlap), before.line, seconds(before.end))
		case overlap > 0:
			m.fix(r.line, KindOverlap, "the earlier row ends where this one begins", "begins %s before the row of line %d ends at %s",
				milliseconds(overlap), before.line, seconds(before.end))
			before.end = r.start
		case overlap < 0:
			m.note(r.line, KindGap, "kept; that time is not annotated", "begins %s after the row of line %d ends at %s",
				milliseconds(-overlap), before.line, seconds(before.end))
		}
		if before.state != pcg.Unannotated && r.state != pcg.Unannotated && r.state != before.state.Next() {
			m.fix(r.line, KindOrder, "kept; sounds are scored one by one", "%v follows %v of line %d, where %v belongs",
				r.state, before.state, before.line, before.state.Next())
		}
		kept = append(kept, r)
	}
	return kept
}

// cut ends disjoint rows with the recording.
func (m *mender) cut(rows []row) []row {
	if m.length <= 0 {
		return rows
	}
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case r.start >= m.length:
			m.fix(r.line, KindPastEnd, "row dropped", "start %s lies past the recording, which ends at %s", seconds(r.start), seconds(m.length))
			continue
		case r.end > m.length:
			m.fix(r.line, KindPastEnd, "cut to the recording", "end %s lies past the recording, which ends at %s", seconds(r.end), seconds(m.length))
			r.end = m.length
		}
		kept = append(kept, r)
	}
	return kept
}

// close gives rows of start and state their ends. The last row has none and
// goes.
func (m *mender) close(rows []row) []row {
	for i := range rows {
		if i > 0 && rows[i].start < rows[i-1].start {
			m.refuse(rows[i].line, KindBackwards, "start %s comes before that of line %d, %s",
				seconds(rows[i].start), rows[i-1].line, seconds(rows[i-1].start))
			return nil
		}
		if i+1 < len(rows) {
			rows[i].end = rows[i+1].start
		}
	}
	return rows[:max(0, len(rows)-1)]
}

// points mends rows of time and sound.
func (m *mender) points(rows []row) []pcg.Point {
	kept := rows[:0:len(rows)]
	for _, r := range rows {
		switch {
		case !r.known:
			m.refuse(r.line, KindCode, "sound %q is none of the layout's codes", shorten(r.code))
			continue
		case r.start < 0:
			m.refuse(r.line, KindNegative, "time %s lies before the recording", seconds(r.start))
			continue
		case m.length > 0 && r.start >= m.length:
			m.fix(r.line, KindPastEnd, "point dropped", "time %s lies past the recording, which ends at %s", seconds(r.start), seconds(m.length))
			continue
		}
		kept = append(kept, r)
	}
	kept = m.exchange(kept)
	points := make([]pcg.Point, 0, len(kept))
	for i, r := range kept {
		if i > 0 {
			before := kept[i-1]
			switch {
			case r.start == before.start && r.state == before.state:
				m.fix(r.line, KindRepeated, "point dropped", "the point of line %d again", before.line)
				continue
			case r.start == before.start:
				m.refuse(r.line, KindNoLength, "the same time as line %d, for another sound", before.line)
			case r.state == before.state:
				m.fix(r.line, KindOrder, "kept; sounds are scored one by one", "%v follows %v of line %d", r.state, before.state, before.line)
			}
		}
		points = append(points, pcg.Point{At: r.start, Sound: r.state})
	}
	return points
}

// exchange mends two neighbouring points that run backwards. Either their
// times were exchanged, or the two rows were; where S1 and S2 alternate around
// them under one of the two readings only, that reading is taken.
func (m *mender) exchange(rows []row) []row {
	for i := 1; i < len(rows); i++ {
		if rows[i].start >= rows[i-1].start {
			continue
		}
		a, b := &rows[i-1], &rows[i]
		placed := (i < 2 || rows[i-2].start < b.start) && (i+1 >= len(rows) || a.start < rows[i+1].start)
		asWritten := alternates(rows, i, a.state, b.state)
		turned := alternates(rows, i, b.state, a.state)
		if !placed || asWritten == turned {
			m.refuse(b.line, KindBackwards, "time %s comes before that of line %d, %s", seconds(b.start), a.line, seconds(a.start))
			continue
		}
		if asWritten {
			m.fix(b.line, KindExchanged, "each gets the other's time", "%v at %s runs back behind %v of line %d at %s",
				b.state, seconds(b.start), a.state, a.line, seconds(a.start))
			a.start, b.start = b.start, a.start
		} else {
			m.fix(b.line, KindExchanged, "the two rows change places", "%v at %s runs back behind %v of line %d at %s",
				b.state, seconds(b.start), a.state, a.line, seconds(a.start))
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
