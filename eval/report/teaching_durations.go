package report

import (
	"fmt"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// durationRow is a length of time as measured in the recordings of a page, and as
// textbooks give it.
type durationRow struct {
	Name, Source string
	Cells        []duration // one for each recording
}

// duration is a length of time in one recording; empty without a whole cycle.
type duration struct {
	Measured string // median, 10th and 90th percentile
	Textbook string
}

// rateOf returns the heart rate of the median cycle in beats per minute.
func rateOf(cycles []pcg.CycleTimes) float64 {
	return float64(time.Minute) / signal.Quantile(sortedLengths(cycles, 0, 4), 0.5)
}

// durationRows are the lengths of time that are shown, with the states at which each
// begins and ends as in sortedLengths, and the source of the textbook values.
var durationRows = [...]struct {
	name     string
	from, to int
	source   string
}{
	{"S1", 0, 1, "common practice; Schmidt et al. 2010 (doi:10.1088/0967-3334/31/4/004, cited from memory) use a mean of 122 ms"},
	{"S2", 2, 3, "common practice; Schmidt et al. 2010 (cited from memory) use a mean of 92 ms"},
	{"start of S1 to start of S2", 0, 2, "Weissler, Harris, Schoenfeld 1968 (Circulation 37:149; adults at rest) and Sugiura 1987 (Am J Cardiol 59:1089; exercise), at this heart rate, minus 70 ms from the Q wave to S1; both cited from memory. Children have shorter systoles."},
	{"start of S2 to start of the next S1", 2, 4, "the rest of the cycle at this heart rate"},
	{"whole cycle", 0, 4, "60 to 100 beats per minute, adults at rest (common practice). At the age of two to three years 76 to 142, median 110 (Fleming et al. 2011, doi:10.1016/S0140-6736(10)62226-X, cited from memory)"},
}

// durationTable measures the cycles of each recording and adds textbook values at
// their heart rates. Where no recording has a whole cycle it is empty.
func durationTable(recordings [][]pcg.CycleTimes) []durationRow {
	var rows []durationRow
	known := false
	printed := make([][len(durationRows)]string, len(recordings))
	for i, cycles := range recordings {
		if len(cycles) > 0 {
			known, printed[i] = true, textbooks(rateOf(cycles))
		}
	}
	if !known {
		return nil
	}
	for k, r := range durationRows {
		row := durationRow{Name: r.name, Source: r.source}
		for i, cycles := range recordings {
			var d duration
			if len(cycles) > 0 {
				list := sortedLengths(cycles, r.from, r.to)
				at := func(q float64) float64 { return signal.Quantile(list, q) / float64(time.Millisecond) }
				d = duration{fmt.Sprintf("%.0f ms (%.0f to %.0f)", at(0.5), at(0.1), at(0.9)), printed[i][k]}
			}
			row.Cells = append(row.Cells, d)
		}
		rows = append(rows, row)
	}
	return rows
}

// textbooks returns the textbook values of durationRows at a heart rate.
func textbooks(rate float64) [len(durationRows)]string {
	systole := milliseconds(eval.ExpectedSystole(rate))
	const spread = 2 * 14 // ms, two standard deviations around Weissler's line
	return [...]string{
		"70 to 150 ms", "60 to 120 ms", fmt.Sprintf("about %.0f to %.0f ms", systole-spread, systole+spread),
		fmt.Sprintf("about %.0f ms", max(60000/rate-systole, 0)), "600 to 1000 ms",
	}
}
