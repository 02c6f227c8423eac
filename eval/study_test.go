package eval

import (
	"strings"
	"testing"
)

// studyRun turns a made-up run into a cell of a study.
func studyRun(r Run, column, condition string) StudyRun {
	r.DataSet, r.Version = "village", "1"
	cell := column + "/" + r.Name + prefixed("/", condition)
	return StudyRun{Run: r, Cell: cell, Column: column, Condition: condition, Digest: "d-" + cell}
}

func TestStudyRefuses(t *testing.T) {
	h := StudyHeader{Methods: []string{"a", "b"}, Columns: []string{"village"}, Conditions: []string{"", "clip=0.1"}}
	a := studyRun(runOf(t, "a", DefaultRules(), 0.1, 1, nil), "village", "")
	other := studyRun(runOf(t, "b", DefaultRules(), 0.1, 1, func(i int, c *Case) {
		if i == 7 {
			c.Recording = "other"
		}
	}), "village", "")
	for _, tt := range []struct {
		runs   []StudyRun
		faults []StudyFault
		want   string
	}{
		{[]StudyRun{a, a}, nil, "cell village/a is given twice"},
		{[]StudyRun{a}, []StudyFault{{Cell: "village/a", Method: "a", Column: "village"}}, "cell village/a is given twice"},
		{[]StudyRun{studyRun(a.Run, "village", "clip=0.2")}, nil, `no cell of method "a", column "village" and condition "clip=0.2"`},
		{[]StudyRun{a, other}, nil, "runs village/a and village/b are not on the same recordings, number 8 is r07 against other"},
	} {
		if _, err := NewStudy(h, tt.runs, tt.faults, Options{}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
}
