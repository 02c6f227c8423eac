package dataset

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// A recording of one second can have 1000 rows and one per 10 ms.
const rowsOfSecond = 1100

func TestRowsOfOneRecordingAreBounded(t *testing.T) {
	p := rule(t, "circor")
	const good = "0\t0.5\t1\n"
	ref, defects := read(p, strings.Repeat(good, rowsOfSecond), 4000, second)
	if len(ref.Intervals) != 1 || excluded(defects) != nil {
		t.Errorf("%d repeated rows gave %d intervals, want 1", rowsOfSecond, len(ref.Intervals))
	}
	_, defects = read(p, strings.Repeat(good, rowsOfSecond+1), 4000, second)
	const want = "x.tsv:1101: more than the 1100 rows that a recording of 1 s can have: " +
		"remove repeated rows, or check that the file belongs to this recording"
	if d := excluded(defects); d == nil || d.Place()+": "+d.Message != want {
		t.Errorf("%d repeated rows:\ngot  %v\nwant %s", rowsOfSecond+1, d, want)
	}
	// Rows that cannot be read count too, since each makes a defect.
	if _, defects = read(p, strings.Repeat("0\tx\t1\n", 3*rowsOfSecond), 4000, second); len(defects) > rowsOfSecond+1 {
		t.Errorf("%d defects of %d rows that cannot be read", len(defects), 3*rowsOfSecond)
	}
}

func TestRepairsAreSummarised(t *testing.T) {
	ref, _ := read(rule(t, "circor"), "0\t0.2\t1\n"+strings.Repeat("0.2\t0.5\t2\n", 40)+"0.5\t0.5\t3\n", 4000, second)
	want := []string{
		"x.tsv:3: same as the row of line 2: row dropped",
		"x.tsv:4: same as the row of line 2: row dropped",
		"x.tsv:5: same as the row of line 2: row dropped",
		"x.tsv:6: same as the row of line 2: row dropped",
		"x.tsv:7: same as the row of line 2: row dropped",
		`x.tsv:42: row of state "3" has no length at 0.5 s: row dropped`,
		`x.tsv: 34 more of "repeated annotation" in lines 8 to 41: row dropped`,
	}
	if diff := cmp.Diff(want, ref.Repairs); diff != "" {
		t.Error(diff)
	}
}

func TestRowsOfTablesAreBounded(t *testing.T) {
	rows := make([]Row, rowsOfSecond+1)
	for i := range rows {
		rows[i] = Row{Number: i + 7, End: time.Second / 2, State: "S1"}
	}
	if got, err := RepairRows("p.parquet", rows[1:], false, second); err != nil || len(got.Intervals) != 1 || len(got.Repairs) != 6 {
		t.Errorf("%d repeated rows: %d intervals and %d repairs, want 1 and 6, %v", rowsOfSecond, len(got.Intervals), len(got.Repairs), err)
	}
	_, err := RepairRows("p.parquet", rows, false, second)
	if want := fmt.Sprintf("p.parquet:%d: more than the %d rows", rowsOfSecond+7, rowsOfSecond); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%d repeated rows: %v, want %q", len(rows), err, want)
	}
}

// TestTableOfStrangers reads a table of annotations whose rows belong to no
// recording.
func TestTableOfStrangers(t *testing.T) {
	dir := t.TempDir()
	var text strings.Builder
	text.WriteString("recording,start,end,state\na,0,1,S1\n")
	for i := range 2 * maxTableDefects {
		fmt.Fprintf(&text, "stranger%d,0,1,S1\n", i)
	}
	layout := filepath.Join(dir, "layout.yaml")
	for name, content := range map[string]string{"a.wav": "", "states.csv": text.String(), "layout.yaml": `
name: x
title: x
version: x
citation: x
licence: x
source: x
audio: {include: ["*.wav"]}
recording: {patterns: ['(?P<id>.+)\.wav']}
references:
  - name: states
    kind: intervals
    paths: [states.csv]
    key: recording
    match: "{id}"
    header: present
    unit: seconds
    columns: {start: start, end: end, state: state}
    states: {S1: S1, S2: S2}
`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	l, err := LoadLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir, l)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if n := len(s.Defects); n > maxTableDefects+10 {
		t.Errorf("%d defects are kept", n)
	}
	if want := fmt.Sprintf("%d more rows of no recording", maxTableDefects); s.Defects[0].Message != want {
		t.Errorf("the first defect is %q, want %q", s.Defects[0].Message, want)
	}
	if ref, _, err := s.Reference(&s.Recordings[0], 1000, second); err != nil || len(ref.Intervals) != 1 {
		t.Errorf("the recording has %d intervals, want 1: %v", len(ref.Intervals), err)
	}
}
