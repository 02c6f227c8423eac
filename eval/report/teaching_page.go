package report

import (
	"fmt"
	"html/template"
	"io"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// TeachingPage explains the heart sounds by one recording, for a lecture or for
// reading at home.
type TeachingPage struct {
	Recording string
	DataSet   string // title and version
	Citation  string
	StatesBy  string // who or what marked the states, as in "the method conv-hsmm"

	States []pcg.Interval
	Length time.Duration // of the recording
	Sound  Sound         // of the whole recording
	ECG    ECG           // of the whole recording; empty where there is none

	ECGText string // where the ECG comes from or why it is not shown; empty where there is none
}

// teachingWidth is the width of the section that the page shows: few enough beats
// to be seen from the last row of a lecture hall.
const teachingWidth = 5 * time.Second

// teachingContent is what the template of the page reads.
type teachingContent struct {
	*TeachingPage
	document
	Player    player
	Average   *averageCycle // nil without a whole cycle
	Drawn     template.HTML // the average cycle
	Durations []duration
	Rate      string
}

// Write writes the page as one HTML file.
func (p *TeachingPage) Write(w io.Writer) (err error) {
	content := teachingContent{TeachingPage: p, document: newDocument("How this heart sounds")}
	v := p.view()
	if content.Player, err = newPlayer(&v); err != nil {
		return err
	}
	cycles := WholeCycles(p.States)
	if content.Average = newAverageCycle(cycles, &p.Sound); content.Average != nil {
		content.Drawn = content.Average.figure().svg("")
		content.Durations = durationsOf(cycles)
		content.Rate = fmt.Sprintf("%.0f", rateOf(cycles))
	}
	if err := templates.ExecuteTemplate(w, "teaching.html", &content); err != nil {
		return fmt.Errorf("teaching page: %w", err)
	}
	return nil
}

// view returns the section with the most annotated time.
func (p *TeachingPage) view() View {
	v := View{Recording: p.Recording, Reference: pcg.Reference{Kind: pcg.IntervalReference, Intervals: p.States}, StatesName: "state", id: "section"}
	v.From, v.To = Window(&v.Reference, p.Length, teachingWidth)
	v.Sound, v.ECG = p.Sound.Between(v.From, v.To), p.ECG.Between(v.From, v.To)
	return v
}

// duration is a length of time as measured and as textbooks give it.
type duration struct {
	Name     string
	Measured string // median, 10th and 90th percentile
	Textbook string
	Source   string
}

// rateOf returns the heart rate of the median cycle in beats per minute.
func rateOf(cycles []pcg.CycleTimes) float64 {
	return float64(time.Minute) / signal.Quantile(sortedLengths(cycles, 0, 4), 0.5)
}

// durationsOf measures the cycles and adds textbook values at their heart rate.
func durationsOf(cycles []pcg.CycleTimes) []duration {
	measured := func(from, to int) string {
		list := sortedLengths(cycles, from, to)
		at := func(q float64) float64 { return signal.Quantile(list, q) / float64(time.Millisecond) }
		return fmt.Sprintf("%.0f ms (%.0f to %.0f)", at(0.5), at(0.1), at(0.9))
	}
	rate := rateOf(cycles)
	systole := milliseconds(eval.ExpectedSystole(rate))
	const spread = 2 * 14 // ms, two standard deviations around Weissler's line
	const regression = "Weissler, Harris, Schoenfeld 1968 (Circulation 37:149; adults at rest) and Sugiura 1987 (Am J Cardiol 59:1089; exercise), at this heart rate, minus 70 ms from the Q wave to S1; both cited from memory. Children have shorter systoles."
	return []duration{
		{"S1", measured(0, 1), "70 to 150 ms", "common practice; Schmidt et al. 2010 (doi:10.1088/0967-3334/31/4/004, cited from memory) use a mean of 122 ms"},
		{"S2", measured(2, 3), "60 to 120 ms", "common practice; Schmidt et al. 2010 (cited from memory) use a mean of 92 ms"},
		{"start of S1 to start of S2", measured(0, 2), fmt.Sprintf("about %.0f to %.0f ms", systole-spread, systole+spread), regression},
		{"start of S2 to start of the next S1", measured(2, 4), fmt.Sprintf("about %.0f ms", max(60000/rate-systole, 0)), "the rest of the cycle at this heart rate"},
		{"whole cycle", measured(0, 4), "600 to 1000 ms", "60 to 100 beats per minute, adults at rest (common practice). At the age of two to three years 76 to 142, median 110 (Fleming et al. 2011, doi:10.1016/S0140-6736(10)62226-X, cited from memory)"},
	}
}
