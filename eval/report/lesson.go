package report

import (
	"fmt"
	"html/template"
	"io"
	"slices"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/pcg"
)

// Lesson is a page that explains the heart sounds by one recording, to be
// projected in a lecture or read at home.
type Lesson struct {
	Recording string
	DataSet   string // its title and version
	Citation  string
	Marking   string // who marked the states, as in "the reference annotation of the data set"

	View    View     // a stretch of time
	Average *Average // nil where no whole cycle is marked
	Cycles  []pcg.CycleTimes
}

// Duration is a length of time as measured and as textbooks have it.
type Duration struct {
	Name     string
	Measured string // median, and the range of the middle 80 %
	Textbook string
	Source   string
}

// lessonContent is what the template of the page reads.
type lessonContent struct {
	*Lesson
	document
	Player    player
	Drawn     template.HTML // the average cycle
	Durations []Duration
	Rate      string
	States    []stateText
}

// Write writes the page as one file of HTML.
func (l *Lesson) Write(w io.Writer) error {
	content := lessonContent{Lesson: l, document: newDocument("How this heart sounds"), States: stateTexts}
	var err error
	if content.Player, err = newPlayer(&l.View, "stretch"); err != nil {
		return err
	}
	if l.Average != nil {
		content.Drawn = l.Average.Figure().SVG()
		content.Durations = l.durations()
		content.Rate = fmt.Sprintf("%.0f", l.rate())
	}
	if err := templates.ExecuteTemplate(w, "lesson.html", &content); err != nil {
		return fmt.Errorf("lesson: %w", err)
	}
	return nil
}

// lengths returns the sorted lengths from the start of one state to that of
// another, counted from S1 as 0.
func (l *Lesson) lengths(from, to int) []time.Duration {
	list := make([]time.Duration, len(l.Cycles))
	for i := range l.Cycles {
		list[i] = l.Cycles[i][to] - l.Cycles[i][from]
	}
	slices.Sort(list)
	return list
}

// rate returns heart beats a minute, by the median cycle.
func (l *Lesson) rate() float64 {
	cycle := l.lengths(0, 4)
	return time.Minute.Seconds() / cycle[len(cycle)/2].Seconds()
}

// durations measures the cycle and puts what textbooks say beside it.
func (l *Lesson) durations() []Duration {
	measured := func(from, to int) string {
		list := l.lengths(from, to)
		at := func(share float64) float64 { return milliseconds(list[int(share*float64(len(list)-1)+0.5)]) }
		return fmt.Sprintf("%.0f ms (%.0f to %.0f)", at(0.5), at(0.1), at(0.9))
	}
	rate := l.rate()
	systole := milliseconds(eval.ExpectedSystole(rate))
	const spread = 2 * 14 // ms, two standard deviations around Weissler's line
	const regression = "Weissler, Harris, Schoenfeld 1968 (Circulation 37:149; adults at rest) and Sugiura 1987 (Am J Cardiol 59:1089; exercise), at this heart rate, less 70 ms from the Q wave to S1; both from memory. Children have shorter systoles."
	return []Duration{
		{"S1", measured(0, 1), "70 to 150 ms", "common practice; means of 122 ms are used by Schmidt et al. 2010 (doi:10.1088/0967-3334/31/4/004, from memory)"},
		{"S2", measured(2, 3), "60 to 120 ms", "common practice; means of 92 ms are used by Schmidt et al. 2010 (from memory)"},
		{"start of S1 to start of S2", measured(0, 2), fmt.Sprintf("about %.0f to %.0f ms", systole-spread, systole+spread), regression},
		{"start of S2 to start of the next S1", measured(2, 4), fmt.Sprintf("about %.0f ms", max(60000/rate-systole, 0)), "the rest of the cycle at this heart rate"},
		{"whole cycle", measured(0, 4), "600 to 1000 ms", "60 to 100 beats a minute, adults at rest (common practice). At the age of two to three years 76 to 142, median 110 (Fleming et al. 2011, doi:10.1016/S0140-6736(10)62226-X, from memory)"},
	}
}

// stateText explains one state in plain words.
type stateText struct {
	State         string
	Name, Short   string
	Valves, Blood string
	Listen        string
}

var stateTexts = []stateText{
	{
		State: pcg.S1.String(), Name: "S1, the first heart sound", Short: "lub",
		Valves: "The ventricles begin to squeeze. As soon as the pressure in them is higher than in the atria, the mitral valve (left) and the tricuspid valve (right) shut.",
		Blood:  "For a moment blood goes nowhere: the valves to the atria have just shut, and those to the arteries are not open yet.",
		Listen: "The blood is stopped short, and heart and vessels ring like a struck drum. S1 is the longer and the lower of the two sounds, and loudest near the tip of the heart.",
	},
	{
		State: pcg.Systole.String(), Name: "Systole", Short: "the short pause",
		Valves: "The aortic valve (left) and the pulmonary valve (right) are open; the mitral and the tricuspid valve stay shut.",
		Blood:  "The ventricles push blood out: the left one through the aorta to the whole body, the right one through the pulmonary artery to the lungs. The atria fill meanwhile.",
		Listen: "Blood that flows smoothly makes hardly a sound. The length of systole changes less with the heart rate than that of diastole.",
	},
	{
		State: pcg.S2.String(), Name: "S2, the second heart sound", Short: "dub",
		Valves: "The ventricles let go. As soon as the pressure in them is lower than in the arteries, the aortic valve shuts, and a moment later the pulmonary valve.",
		Blood:  "Blood in the arteries falls back against the shut valves. For a moment nothing flows into the ventricles either.",
		Listen: "S2 is shorter and higher than S1. While one breathes in, its two parts draw apart by 20 to 40 ms, which a practised ear hears as two.",
	},
	{
		State: pcg.Diastole.String(), Name: "Diastole", Short: "the long pause",
		Valves: "The mitral and the tricuspid valve are open; the aortic and the pulmonary valve stay shut.",
		Blood:  "Blood runs from the atria into the ventricles, and near the end the atria squeeze and top them up. The muscle of the heart gets its own blood mostly now.",
		Listen: "At rest this is the longest part of the cycle. When the heart beats faster, it is diastole that gives up its time.",
	},
}
