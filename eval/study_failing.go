package eval

import "slices"

// failBelow is the F1 of a recording below which a method fails on it: of the sounds of
// reference and prediction together fewer are paired than not, 2 TP < FP + FN. It
// follows no source.
const failBelow = 0.5

// StudyRecording is a recording on which every method fails on the audio as it is: the
// F1 of the headline of each is below [Study].FailBelow. A recording without output
// has an F1 of 0; one without an F1, since it has no events, is not listed. It may be
// the recording or its reference that is at fault.
type StudyRecording struct {
	Column    string        `json:"column"`
	Recording string        `json:"recording"`
	Person    string        `json:"person"`
	Scores    []MethodScore `json:"scores"` // in the order of the header; without methods that have no scores
}

// MethodScore is the F1 of a method.
type MethodScore struct {
	Method string `json:"method"`
	F1     Ratio  `json:"f1"`
}

// Best returns the highest score, of equal ones the first.
func (r *StudyRecording) Best() MethodScore {
	best := r.Scores[0]
	for _, s := range r.Scores[1:] {
		if s.F1 > best.F1 {
			best = s
		}
	}
	return best
}

// failingRecordings returns the recordings of a column on which every method fails, in
// the order of the data set.
func failingRecordings(runs []StudyRun) []StudyRecording {
	clean := slices.DeleteFunc(slices.Clone(runs), func(r StudyRun) bool { return r.Condition != "" })
	if len(clean) == 0 {
		return nil
	}
	var list []StudyRecording
	first := clean[0].Results
	class := first.rules.reported()[0]
	for i := range first.recordings {
		rec := &first.recordings[i]
		if !rec.hasCounts {
			continue
		}
		r := StudyRecording{Column: clean[0].Column, Recording: rec.id, Person: first.personOf(rec)}
		for k := range clean {
			r.Scores = append(r.Scores, MethodScore{clean[k].Name, clean[k].Results.recordings[i].headline.of(class).f1()})
		}
		if !slices.ContainsFunc(r.Scores, func(s MethodScore) bool { return !(s.F1 < failBelow) }) {
			list = append(list, r)
		}
	}
	return list
}
