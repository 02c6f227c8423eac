package program

import (
	"encoding/json"
	"testing"
	"time"
)

// Whatever a program answers, the result is an error or a segmentation that keeps its
// promises.
func FuzzAnswer(f *testing.F) {
	for _, rest := range []string{
		`"intervals":[["S1",0.1,0.2],["S2",0.4,0.5],["S1",0.9,1.0]],"confidence":0.5`,
		`"intervals":[["systole",0.1,0.2],["S2",0.2004,0.5],["diastole",0.4996,1.9995]]`,
		`"intervals":[["S1",0,1e-10],["systole",0,0.0001],["S2",0.0001,2.001]]`,
		`"points":[["S1",0.02],["S2",0.3],["S1",1.99]]`, `"points":[["S1",0],["S2",2.001]]`,
		`"error":"no beat"`, `"intervals":[["S1",NaN,1]]`, `"intervals":[["S1",0,-Inf`, `"points":[["S1",1e-320]]`,
	} {
		f.Add(`{"recording":"a1",` + rest + "}")
	}
	rules := []*answerRule{{}, {points: true}, {points: true, durations: &soundDurations{120 * time.Millisecond, 100 * time.Millisecond}}}
	f.Fuzz(func(t *testing.T, line string) {
		for _, rule := range rules {
			a, err := decodeAnswer([]byte(line), "a1")
			if err != nil {
				continue
			}
			s, err := rule.segmentation(a, 2*time.Second)
			if err != nil {
				continue
			}
			if err := s.Check(2 * time.Second); err != nil {
				t.Errorf("%+v: %v", rule, err)
			}
		}
	})
}

// Whatever the file of a method says, it is refused or gives options that can be
// written.
func FuzzMethodFile(f *testing.F) {
	f.Add(whole)
	f.Add("name: a\ntitle: b\nsegment: [c]\nanswers: intervals\nsignal: {rate: recorded}\noptions: {a: 1, b: [x]}\n")
	f.Fuzz(func(t *testing.T, text string) {
		m, _, err := parseMethod("method.yaml", []byte(text))
		if err != nil {
			return
		}
		for _, set := range []*optionSet{m.options, m.fitOptions} {
			if _, err := json.Marshal(set.withDefaults()); err != nil {
				t.Error(err)
			}
		}
		if len(m.Segment) == 0 || m.original() && m.file {
			t.Errorf("accepted: %+v", m)
		}
	})
}
