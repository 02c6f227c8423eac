package dataset

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// rule returns the reference rule of the embedded layout of that name, made
// ready.
func rule(t testing.TB, layout string) *compiledReference {
	t.Helper()
	l, err := LoadLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	p, err := l.compile()
	if err != nil {
		t.Fatal(err)
	}
	return &p.references[0]
}

// read repairs the text of one annotation.
func read(p *compiledReference, text string, rate int, length time.Duration) (pcg.Reference, []Defect) {
	a := annotationReader{rule: p, file: "x.tsv", rate: rate, length: length}
	a.read(strings.NewReader(text))
	return a.reference("")
}

// brief writes defects as "line kind", with ! for those that exclude and * for
// those that change the reference.
func brief(defects []Defect) []string {
	var out []string
	for _, d := range defects {
		mark := ""
		if d.Excludes {
			mark = "!"
		} else if d.repaired {
			mark = "*"
		}
		if strings.Contains(d.Message, "%!") {
			mark += " whose arguments do not fit the message: " + d.Message
		}
		out = append(out, fmt.Sprintf("%d %s%s", d.Line, d.Kind, mark))
	}
	return out
}

func spans(intervals []pcg.Interval) string {
	var parts []string
	for _, iv := range intervals {
		parts = append(parts, fmt.Sprintf("%v %d-%d", iv.State, iv.Start.Milliseconds(), iv.End.Milliseconds()))
	}
	return strings.Join(parts, ", ")
}

const second = time.Second

func TestIntervals(t *testing.T) {
	p := rule(t, "circor")
	for _, c := range []struct {
		name, text string
		want       string
		defects    []string
	}{
		{"clean", "0\t1\t0\n1\t1.1\t1\n1.1\t1.3\t2\n1.3\t1.4\t3\n1.4\t2\t4\n2\t9\t0\n",
			"S1 1000-1100, systole 1100-1300, S2 1300-1400, diastole 1400-2000", nil},
		{"last line without end", "0\t1\t1", "S1 0-1000", nil},
		{"CRLF", "0\t1\t1\r\n1\t2\t2\r\n", "S1 0-1000, systole 1000-2000", []string{"1 CR LF line ends"}},
		{"no length", "0\t1\t1\n1\t1\t2\n1\t2\t2\n2\t2\t0\n", "S1 0-1000, systole 1000-2000",
			[]string{"2 row of zero length*", "4 row of zero length*"}},
		{"no length, no known code", "0\t1\t1\n0\t0\t28\n", "S1 0-1000", []string{"2 row of zero length*"}},
		{"gap", "0\t1\t1\n1.02\t2\t2\n5\t6\t3\n", "S1 0-1000, systole 1020-2000, S2 5000-6000",
			[]string{"2 gap between rows", "3 gap between rows"}},
		{"overlap of 30 ms", "0\t1\t1\n0.97\t2\t2\n", "S1 0-970, systole 970-2000", []string{"2 overlapping rows*"}},
		{"overlap beyond 30 ms", "0\t1\t1\n0.969999999\t2\t2\n", "", []string{"2 overlapping rows!"}},
		{"overlap that leaves nothing", "0\t0.02\t1\n0\t2\t2\n", "", []string{"2 overlapping rows!"}},
		{"overlap with time not annotated", "0\t1\t1\n0.99\t2\t0\n1.98\t3\t1\n", "S1 0-990, S1 1980-3000",
			[]string{"2 overlapping rows*", "3 overlapping rows*"}},
		{"repeated row", "0\t1\t1\n0\t1\t1\n1\t2\t2\n", "S1 0-1000, systole 1000-2000", []string{"2 repeated annotation*"}},
		{"unsorted", "1\t2\t2\n0\t1\t1\n2\t3\t3\n", "S1 0-1000, systole 1000-2000, S2 2000-3000",
			[]string{"2 rows not in time order*"}},
		{"order", "0\t1\t1\n1\t2\t3\n2\t3\t3\n", "S1 0-1000, S2 1000-2000, S2 2000-3000",
			[]string{"2 states out of order*", "3 states out of order*"}},
		{"order across time not annotated", "0\t1\t1\n1\t2\t0\n2\t3\t1\n", "S1 0-1000, S1 2000-3000", nil},
		{"past the end", "0\t1\t1\n1\t10.5\t2\n10.5\t11\t3\n", "S1 0-1000, systole 1000-10000",
			[]string{"2 time after the recording*", "3 time after the recording*"}},
		{"to the end exactly", "9\t10\t1\n", "S1 9000-10000", nil},
		{"before the start", "-0.02\t1\t1\n", "S1 0-1000", []string{"1 time before the recording*"}},
		{"long before the start", "-1\t1\t1\n", "", []string{"1 time before the recording!"}},
		{"all before the start", "-0.02\t0\t4\n0\t1\t1\n", "S1 0-1000", []string{"1 time before the recording*"}},
		{"backwards", "0\t1\t1\n2\t1\t2\n", "", []string{"2 end before start!"}},
		{"letters", "0\t1\t1\n1\ttwo\t2\n", "", []string{"2 not a number!"}},
		{"nan", "0\tnan\t1\n", "", []string{"1 not a number!"}},
		{"code", "0\t1\t1\n1\t2\t5\n", "", []string{"2 unknown code!"}},
		{"too few columns", "0\t1\t1\n1\t2\n", "", []string{"2 wrong number of columns!"}},
		{"too many columns", "0\t1\t1\t7\n", "", []string{"1 wrong number of columns!"}},
		{"an empty column", "0\t1\t1\t\n", "S1 0-1000", []string{"1 wrong number of columns"}},
		{"other delimiter", "0,1,1\n", "", []string{"1 wrong number of columns!"}},
		{"nothing", "", "", []string{"0 empty annotation!"}},
		{"nothing annotated", "0\t10\t0\n", "", []string{"0 empty annotation!"}},
		{"several defects", "x\t1\t1\n3\t2\t2\n", "", []string{"1 not a number!", "2 end before start!"}},
		{"binary", "0\t1\x00\t1\n", "", []string{"1 unreadable text!"}},
	} {
		ref, defects := read(p, c.text, 4000, 10*second)
		if diff := cmp.Diff(c.defects, brief(defects)); diff != "" {
			t.Errorf("%s: defects differ:\n%s", c.name, diff)
		}
		if slices.ContainsFunc(defects, func(d Defect) bool { return d.Excludes }) {
			continue
		}
		if got := spans(ref.Intervals); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestIntervalsOfUnknownLength(t *testing.T) {
	ref, defects := read(rule(t, "circor"), "0\t1\t1\n1\t100\t2\n", 0, 0)
	if got := spans(ref.Intervals); got != "S1 0-1000, systole 1000-100000" || len(defects) > 0 {
		t.Errorf("%s, %v", got, brief(defects))
	}
}

func TestMessages(t *testing.T) {
	p := rule(t, "circor")
	for text, want := range map[string]string{
		"0.74\t0.61\t1\n":           "x.tsv:1: end 0.61 s before start 0.74 s: not scored",
		"0\tone\t1\n":               `x.tsv:1: end "one": not a number: not scored`,
		"0\t1\t9\n":                 `x.tsv:1: state "9" is none of the layout's codes: not scored`,
		"0\t1\t1\n0.998\t2\t2\n":    "x.tsv:2: starts 2 ms before the row of line 1 ends at 1 s: the earlier row ends where this one starts",
		"0\t1\t1\n1.0005\t2\t2\n":   "x.tsv:2: starts 0.5 ms after the row of line 1 ends at 1 s: kept: this time is not annotated",
		"0\t1\t1\n1\t2\t4\n":        "x.tsv:2: diastole follows S1 of line 1 instead of systole: kept: each sound is scored on its own",
		"0\t12.000000001\t1\n":      "x.tsv:1: end 12.000000001 s is after the end of the recording at 10 s: cut to the recording",
		"0\t1\t1\n1\t2e9\t2\n":      `x.tsv:2: end "2e9": beyond 1000000 s: not scored`,
		"0\t1\t1\n1\t2\n":           "x.tsv:2: 2 columns instead of 3: not scored",
		"0\t1\t\x1b[31m\n":          `x.tsv:1: state "\x1b[31m" is none of the layout's codes: not scored`,
		strings.Repeat("9", 70<<10): "x.tsv:1: longer than 65536 bytes: is this the right file?: not scored",
	} {
		_, defects := read(p, text, 4000, 10*second)
		if len(defects) == 0 || defects[0].String() != want {
			t.Errorf("%.30q:\n got %v\nwant %s", text, defects, want)
		}
	}
}

// In the plain layout the header is optional and states are codes or names.
func TestOptionalHeader(t *testing.T) {
	p := rule(t, "plain")
	want := "S1 500-600, systole 600-900"
	for name, text := range map[string]string{
		"none":          "0.5\t0.6\t1\n0.6\t0.9\t2\n",
		"header":        "start_s\tend_s\tstate\n0.5\t0.6\tS1\n0.6\t0.9\tSystole\n",
		"other order":   "state\tnote\tEND_S\tStart_s\ns1\tx\t0.6\t0.5\n2\ty\t0.9\t0.6\n",
		"byte order":    "\xef\xbb\xbfstart_s\tend_s\tstate\n0.5\t0.6\t1\n0.6\t0.9\t2\n",
		"quoted header": "\"start_s\"\t\"end_s\"\t\"state\"\n0.5\t0.6\t1\n0.6\t0.9\t2\n",
	} {
		ref, defects := read(p, text, 0, 0)
		if got := spans(ref.Intervals); got != want || len(defects) > 0 {
			t.Errorf("%s: got %s, %v", name, got, defects)
		}
	}
	_, defects := read(p, "start_s\tstop_s\tstate\n0.5\t0.6\tS1\n", 0, 0)
	if diff := cmp.Diff([]string{"1 missing column!"}, brief(defects)); diff != "" {
		t.Error(diff)
	}
	if want := `header without a column "end_s": it has start_s, stop_s, state`; defects[0].Message != want {
		t.Errorf("got %q, want %q", defects[0].Message, want)
	}
}

// Samples count from 1, each state ends where the next begins, and the last
// row only ends the one before.
func TestStarts(t *testing.T) {
	p := rule(t, "cinc2016")
	p.Delimiter = "comma"
	for _, c := range []struct {
		name, text, want string
		defects          []string
	}{
		{"clean", "1,S1\n201,systole\n601,S2\n801,diastole\n1601,S1\n", "S1 0-100, systole 100-300, S2 300-400, diastole 400-800", nil},
		{"header", "sample,state\n1,S1\n201,systole\n", "S1 0-100", nil},
		{"noise", "1,S1\n201,(N\n601,N)\n801,diastole\n1601,S1\n", "S1 0-100, diastole 400-800", nil},
		{"order", "1,S1\n201,S2\n601,diastole\n", "S1 0-100, S2 100-300", []string{"2 states out of order*"}},
		{"same start", "1,S1\n201,systole\n201,S2\n601,diastole\n", "S1 0-100, S2 100-300",
			[]string{"2 row of zero length*", "3 states out of order*"}},
		{"past the end", "1,S1\n201,systole\n40001,S2\n", "S1 0-100, systole 100-10000", []string{"2 time after the recording*"}},
		{"backwards", "1,S1\n801,systole\n601,S2\n", "", []string{"3 end before start!"}},
		{"code", "1,S1\n201,S5\n601,S2\n", "", []string{"2 unknown code!"}},
		{"half a sample", "1,S1\n201.5,systole\n", "", []string{"2 not a number!"}},
		{"one row", "1,S1\n", "", []string{"0 empty annotation!"}},
		{"sample 0", "0,S1\n201,systole\n", "S1 0-100", []string{"1 time before the recording*"}},
	} {
		ref, defects := read(p, c.text, 2000, 10*second)
		if diff := cmp.Diff(c.defects, brief(defects)); diff != "" {
			t.Errorf("%s: defects differ:\n%s", c.name, diff)
		}
		if slices.ContainsFunc(defects, func(d Defect) bool { return d.Excludes }) {
			continue
		}
		if got := spans(ref.Intervals); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
	_, defects := read(p, "1,S1\n201,systole\n", 0, 0)
	if diff := cmp.Diff([]string{"0 unknown sampling rate!"}, brief(defects)); diff != "" {
		t.Errorf("without a rate:\n%s", diff)
	}
}

func TestPoints(t *testing.T) {
	p := rule(t, "pascal")
	p.Key = "" // one file a recording, for the test
	p.Delimiter = "comma"
	for _, c := range []struct {
		name, text, want string
		defects          []string
	}{
		{"clean", "441,S1\n4410,S2\n8820,S1\n", "S1 10, S2 100, S1 200", nil},
		{"exchanged points", "441,S1\n8820,S2\n4410,S1\n13230,S2\n", "S1 10, S2 100, S1 200, S2 300", []string{"4 exchanged points*"}},
		{"rows exchanged", "441,S1\n8820,S1\n4410,S2\n13230,S2\n", "S1 10, S2 100, S1 200, S2 300", []string{"4 exchanged points*"}},
		{"exchanged at the end", "441,S1\n8820,S2\n4410,S1\n", "S1 10, S2 100, S1 200", []string{"4 exchanged points*"}},
		{"two alone", "8820,S1\n4410,S2\n", "", []string{"3 end before start!"}},
		{"alike", "441,S1\n8820,S2\n4410,S2\n13230,S1\n", "", []string{"4 end before start!", "4 states out of order*"}},
		{"far back", "4410,S1\n8820,S2\n441,S1\n13230,S2\n", "", []string{"4 end before start!"}},
		{"same sound twice", "441,S1\n4410,S1\n", "S1 10, S1 100", []string{"3 states out of order*"}},
		{"repeated", "441,S1\n441,S1\n4410,S2\n", "S1 10, S2 100", []string{"3 repeated annotation*"}},
		{"two sounds at once", "441,S1\n441,S2\n", "", []string{"3 two sounds at one time!"}},
		{"past the end", "441,S1\n441000,S2\n", "S1 10", []string{"3 time after the recording*"}},
		{"before the start", "-1,S1\n", "", []string{"2 time before the recording!"}},
		{"code", "441,S3\n", "", []string{"2 unknown code!"}},
		{"letters", "S1,441\n", "", []string{"2 not a number!"}},
		{"nothing", "", "", []string{"0 empty annotation!"}},
	} {
		ref, defects := read(p, "location,sound\n"+c.text, 44100, 10*second)
		if diff := cmp.Diff(c.defects, brief(defects)); diff != "" {
			t.Errorf("%s: defects differ:\n%s", c.name, diff)
		}
		if slices.ContainsFunc(defects, func(d Defect) bool { return d.Excludes }) {
			continue
		}
		var parts []string
		for _, x := range ref.Points {
			parts = append(parts, fmt.Sprintf("%v %d", x.Sound, x.At.Milliseconds()))
		}
		if got := strings.Join(parts, ", "); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

// checkReference reports what breaks the promise of pcg.Reference.
func checkReference(ref *pcg.Reference, length time.Duration) error {
	for i, iv := range ref.Intervals {
		if iv.Start < 0 || iv.End <= iv.Start || iv.End > length || iv.State < pcg.S1 || iv.State > pcg.Diastole {
			return fmt.Errorf("interval %d is %v", i, iv)
		}
		if i > 0 && iv.Start < ref.Intervals[i-1].End {
			return fmt.Errorf("interval %d, %v, overlaps %v", i, iv, ref.Intervals[i-1])
		}
	}
	for i, p := range ref.Points {
		if p.At < 0 || p.At >= length || !p.Sound.IsSound() || i > 0 && p.At <= ref.Points[i-1].At {
			return fmt.Errorf("point %d is %v after %v", i, p, ref.Points[max(0, i-1)])
		}
	}
	return nil
}

// A clean annotation that is roughened by less than the repairer tolerates comes
// back with every boundary within the roughness.
func TestRepairRemovesRoughness(t *testing.T) {
	p := rule(t, "circor")
	r := rand.New(rand.NewPCG(5, 6))
	for trial := range 200 {
		var text strings.Builder
		var want []pcg.Interval
		at := time.Duration(r.IntN(900)) * time.Millisecond
		state := pcg.Cycle[r.IntN(4)]
		for at < 8*second {
			end := at + time.Duration(60+r.IntN(400))*time.Millisecond
			want = append(want, pcg.Interval{Start: at, End: end, State: state})
			rough := time.Duration(r.IntN(30_001)) * time.Microsecond
			fmt.Fprintf(&text, "%.6f\t%.6f\t%d\n", at.Seconds(), (end + rough).Seconds(), state)
			if r.IntN(5) == 0 {
				fmt.Fprintf(&text, "%.6f\t%.6f\t%d\n", end.Seconds(), end.Seconds(), r.IntN(30))
			}
			at, state = end, state.Next()
		}
		ref, defects := read(p, text.String(), 4000, at)
		if slices.ContainsFunc(defects, func(d Defect) bool { return d.Excludes }) {
			t.Fatalf("trial %d: %v\n%s", trial, defects, text.String())
		}
		if diff := cmp.Diff(want, ref.Intervals); diff != "" {
			t.Fatalf("trial %d:\n%s", trial, diff)
		}
	}
}

func FuzzAnnotation(f *testing.F) {
	f.Add("0\t1\t1\n0.99\t2\t2\n2\t1.9\t3\n", uint8(0), 4000)
	f.Add("location,sound\n441,S1\n8820,S2\n4410,S1\n", uint8(1), 44100)
	f.Add("1,S1\n201,systole\n601,(N\n", uint8(2), 2000)
	f.Add("start_s,end_s,state\r\n-0.01,1e-1,\"S1\"\r\n", uint8(3), 8000)
	rules := []*compiledReference{rule(f, "circor"), rule(f, "pascal"), rule(f, "cinc2016"), rule(f, "plain")}
	rules[1].Key = ""
	for _, p := range rules[1:] {
		p.Delimiter = "comma"
	}
	const length = 10 * second
	f.Fuzz(func(t *testing.T, text string, which uint8, rate int) {
		ref, defects := read(rules[int(which)%len(rules)], text, rate, length)
		for _, d := range defects {
			if d.Excludes {
				return
			}
		}
		if ref.Empty() {
			t.Error("an empty reference without a reason")
		}
		if err := checkReference(&ref, length); err != nil {
			t.Errorf("%v after %v", err, brief(defects))
		}
	})
}
