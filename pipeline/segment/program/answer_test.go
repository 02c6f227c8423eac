package program

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// answered returns the segmentation of 2 s that a rule makes of an answer, in which '
// stands for ".
func answered(rule *answerRule, rest string) (pcg.Segmentation, error) {
	a, err := decodeAnswer([]byte(strings.ReplaceAll("{'recording':'a1',"+rest+"}", "'", `"`)), "a1")
	if err != nil {
		return pcg.Segmentation{}, err
	}
	s, err := rule.segmentation(a, 2*time.Second)
	if err == nil {
		err = s.Check(2 * time.Second)
	}
	return s, err
}

// What is wrong with an answer is said with the number of the interval.
func TestWrongAnswers(t *testing.T) {
	const some = "'intervals':[['S1',0.1,0.2]]"
	for _, tt := range []struct{ name, rest, want string }{
		{"own reason", "'error':'no beat\\nfound'", `the program says: no beat\nfound`},
		{"unknown key", "'interval':[]", `the answer has an unknown key "interval": there are recording, intervals, points, confidence, error`},
		{"wrong type", "'intervals':7", `the answer has a wrong value of "intervals"`},
		{"nothing", "'confidence':1", `the answer has no sound: say "error" where none is found`},
		{"no interval", "'intervals':[]", `the answer has no sound`},
		{"points", "'points':[['S1',0.1]]", `the answer has points: the file of the method does not say "answers: points"`},
		{"NaN", "'intervals':[['S1',NaN,1]]", "the answer holds NaN where a number belongs"},
		{"infinity", "'intervals':[['S1',0,-Infinity]]", "the answer holds -Infinity where a number belongs"},
		{"nan of awk", "'intervals':[['S1',0,-nan]]", "the answer holds -nan where a number belongs"},
		{"too large a number", "'intervals':[['S1',0,1e999]]", `interval 1 is ["S1",0,1e999]: want ["S1", start, end], in seconds`},
		{"null as time", "'intervals':[['S1',0,null]]", `interval 1 is ["S1",0,null]`},
		{"two fields", "'intervals':[['S1',0]]", `interval 1 is ["S1",0]`},
		{"four fields", "'intervals':[['S1',0,1,2]]", `interval 1 is ["S1",0,1,2]`},
		{"wrong name", "'intervals':[['S1',0,0.1],['S3',0.2,0.3]]", `interval 2 has the unknown state "S3": there are S1, systole, S2, diastole`},
		{"unannotated", "'intervals':[['unannotated',0,0.1]]", `interval 1 has the unknown state "unannotated"`},
		{"negative", "'intervals':[['S1',-0.1,0.1]]", "interval 1: S1 at -0.1 s, before the recording begins"},
		{"beyond the end", "'intervals':[['S1',1.9,2.002]]", "interval 1: S1 at 2.002 s, beyond the end of the recording at 2 s"},
		{"no length", "'intervals':[['S1',1,1]]", "interval 1: S1 ends at 1 s and starts at 1 s"},
		{"wrong order", "'intervals':[['S1',0.1,0.2],['diastole',0.2,0.5]]", "interval 2: diastole follows S1: want systole"},
		{"one sound twice", "'intervals':[['S1',0.1,0.2],['S1',0.4,0.5]]", "interval 2: S1 follows S1: want S2"},
		{"overlap", "'intervals':[['S1',0.1,0.2],['systole',0.1985,0.3]]", "interval 2: systole [0.199 s, 0.300 s) begins before S1 [0.100 s, 0.200 s) ends"},
		{"earlier", "'intervals':[['S1',0.5,0.6],['S2',0.1,0.2]]", "interval 2: S2 [0.100 s, 0.200 s) begins before S1 [0.500 s, 0.600 s) ends"},
		{"gap", "'intervals':[['S1',0.1,0.2],['systole',0.202,0.3]]", "interval 2: nothing is said about 0.002 s between S1 [0.100 s, 0.200 s) and systole [0.202 s, 0.300 s)"},
		{"no systole", "'intervals':[['S1',0.1,0.2],['S2',0.2005,0.3]]", "interval 2: no time is left for systole between"},
		{"confidence", some + ",'confidence':1.5", "confidence 1.5 is not in [0, 1]"},
		{"confidence as text", some + ",'confidence':'high'", `the answer has a wrong value of "confidence"`},
	} {
		_, err := answered(&answerRule{}, tt.rest)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error\n%v\nwant\n%s", tt.name, err, tt.want)
		}
	}
}

// What is no answer at all is told apart from a wrong one: nothing more can be asked.
func TestNoAnswers(t *testing.T) {
	const noJSON = "the program wrote a line that is no answer in JSON: "
	const noRecording = `the program wrote an answer without the text "recording"`
	for line, want := range map[string]string{
		"":                                   noJSON + `"";`,
		"{'recording':'a1','error':'x'} {}":  noJSON + `"{\"recording`,
		"[1,2]":                              noJSON,
		"{'recording':":                      noJSON,
		"NA":                                 noJSON,
		"null":                               noRecording,
		"{'error':'x'}":                      noRecording,
		"{'recording':5,'error':'x'}":        noRecording,
		"{'recording':'a1\xff','error':'x'}": `the program answered for recording "a1`,
	} {
		a, err := decodeAnswer([]byte(strings.ReplaceAll(line, "'", `"`)), "a1")
		if a != nil || !errors.As(err, new(*fault)) || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: error\n%v\nwant\n%s", line, err, want)
		}
	}
}

// The segmentation of an answer with sounds alone is filled with silence.
func TestSegmentationOfAnAnswer(t *testing.T) {
	span := func(start, end time.Duration, state pcg.State) pcg.Interval {
		return pcg.Interval{Start: start * time.Millisecond, End: end * time.Millisecond, State: state}
	}
	for rest, want := range map[string][]pcg.Interval{
		"'intervals':[['S1',0.1,0.2],['S2',0.4,0.5]],'confidence':0.25":            {span(0, 100, pcg.Diastole), span(100, 200, pcg.S1), span(200, 400, pcg.Systole), span(400, 500, pcg.S2), span(500, 2000, pcg.Diastole)},
		"'intervals':[['s2',0.0005,1.9995]]":                                       {span(0, 2000, pcg.S2)},
		"'intervals':[['S2',0.002,2.0005]]":                                        {span(0, 2, pcg.Systole), span(2, 2000, pcg.S2)},
		"'intervals':[['Systole',0.3,0.5],['S2',0.501,0.7],['diastole',0.6995,1]]": {span(0, 500, pcg.Systole), span(500, 700, pcg.S2), span(700, 2000, pcg.Diastole)},
	} {
		seg, err := answered(&answerRule{}, rest)
		if err != nil {
			t.Error(err)
			continue
		}
		if fmt.Sprint(seg.Intervals) != fmt.Sprint(want) {
			t.Errorf("%s: %v, want %v", rest, seg.Intervals, want)
		}
		if want := strings.Contains(rest, "0.25"); want != (seg.Confidence == 0.25) {
			t.Errorf("%s: confidence %v", rest, seg.Confidence)
		}
	}
}
