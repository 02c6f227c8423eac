package program

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
)

// answer is what a program says about a recording: a line of JSON.
type answer struct {
	Recording  string            `json:"recording"`
	Intervals  []json.RawMessage `json:"intervals"` // each [state, start, end]
	Points     []json.RawMessage `json:"points"`    // each [sound, time]
	Confidence *float64          `json:"confidence"`
	Error      *string           `json:"error"`
}

// answerRule says how a program answers.
type answerRule struct {
	points    bool
	durations *soundDurations // make points intervals; nil for none
}

// soundDurations are those of the sounds, around points.
type soundDurations struct{ s1, s2 time.Duration }

func (d *soundDurations) of(s pcg.State) time.Duration {
	if s == pcg.S1 {
		return d.s1
	}
	return d.s2
}

// maxShown bounds what is shown of a line that is no answer, in characters.
const maxShown = 80

// decodeAnswer reads a line. An error that is a fault says that the line is no answer
// at all, or one to another recording. Any other error is in the answer, which is
// returned with it.
func decodeAnswer(line []byte, recording string) (*answer, error) {
	noAnswer := &fault{what: fmt.Sprintf("the program wrote a line that is no answer in JSON: %q; messages belong on standard error", shown(string(line), maxShown))}
	a := new(answer)
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	err := d.Decode(a)
	var syntax *json.SyntaxError
	var mistyped *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		if name := nonFinite(line, int(syntax.Offset)); name != "" && line[0] == '{' {
			return nil, fmt.Errorf("the answer holds %s where a number belongs", name)
		}
		return nil, noAnswer
	case err == io.EOF || err == io.ErrUnexpectedEOF || errors.As(err, &mistyped) && mistyped.Field == "":
		return nil, noAnswer
	case d.More():
		return nil, noAnswer
	case mistyped != nil && mistyped.Field == "recording", a.Recording == "" && recording != "":
		return nil, &fault{what: `the program wrote an answer without the text "recording"`}
	case a.Recording != recording:
		return nil, &fault{what: fmt.Sprintf("the program answered for recording %q, not for this one", shown(a.Recording, maxShown))}
	case mistyped != nil:
		return a, fmt.Errorf("the answer has a wrong value of %q", mistyped.Field)
	case err != nil:
		if key, unknown := strings.CutPrefix(err.Error(), "json: unknown field "); unknown {
			err = fmt.Errorf("the answer has an unknown key %s: there are recording, intervals, points, confidence, error", shown(key, maxShown))
		}
		return a, err
	}
	return a, nil
}

// nonFinite returns the word at the place where a line is no JSON, if it is one that
// encoders of some languages write for what is no finite number.
func nonFinite(line []byte, offset int) string {
	letter := func(c byte) bool { return c == '-' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }
	start := max(0, min(offset-1, len(line)))
	for start > 0 && letter(line[start-1]) {
		start--
	}
	end := start
	for end < len(line) && letter(line[end]) {
		end++
	}
	word := string(line[start:end])
	switch strings.ToLower(strings.TrimPrefix(word, "-")) {
	case "nan", "inf", "infinity", "na":
		return word
	}
	return ""
}

// segmentation turns an answer into the segmentation of a recording of that length.
func (r *answerRule) segmentation(a *answer, length time.Duration) (pcg.Segmentation, error) {
	s := pcg.Segmentation{Confidence: math.NaN(), ExchangeProbability: math.NaN()}
	if a.Error != nil {
		return s, fmt.Errorf("the program says: %s", shown(*a.Error, 2*maxLine))
	}
	if a.Confidence != nil {
		if !(*a.Confidence >= 0 && *a.Confidence <= 1) {
			return s, fmt.Errorf("confidence %g is not in [0, 1]", *a.Confidence)
		}
		s.Confidence = *a.Confidence
	}
	var err error
	switch most := dataset.MaxRows(length); {
	case r.points && a.Intervals != nil:
		err = errors.New(`the answer has intervals: the file of the method says "answers: points"`)
	case !r.points && a.Points != nil:
		err = errors.New(`the answer has points: the file of the method does not say "answers: points"`)
	case len(a.Intervals)+len(a.Points) == 0:
		err = errors.New(`the answer has no sound: say "error" where none is found`)
	case len(a.Intervals)+len(a.Points) > most:
		err = fmt.Errorf("the answer has %d sounds or states, more than the %d that a recording of %v can have", len(a.Intervals)+len(a.Points), most, length)
	case !r.points:
		s.Intervals, err = readIntervals(a.Intervals, length)
		if err == nil {
			s.Intervals, err = tile(s.Intervals, length, "interval")
		}
	default:
		s.Points, err = readPoints(a.Points, length)
		if err == nil && r.durations != nil {
			s.Intervals, err = tile(r.durations.around(s.Points, length), length, "point")
			s.Points = nil
		}
	}
	s.CycleLength = cycleLength(&s)
	return s, err
}

// readIntervals reads intervals, each for itself.
func readIntervals(rows []json.RawMessage, length time.Duration) ([]pcg.Interval, error) {
	list := make([]pcg.Interval, len(rows))
	for i, row := range rows {
		var name string
		var start, end float64
		fields := [4]any{&name, &start, &end}
		if json.Unmarshal(row, &fields) != nil || fields[0] == nil || fields[1] == nil || fields[2] == nil || fields[3] != nil {
			return nil, fmt.Errorf(`interval %d is %s: want ["S1", start, end], in seconds`, i+1, shown(string(row), maxShown))
		}
		state, err := pcg.ParseState(name)
		if err != nil || state == pcg.Unannotated {
			return nil, fmt.Errorf("interval %d has the unknown state %q: there are S1, systole, S2, diastole", i+1, shown(name, maxShown))
		}
		list[i].State = state
		if list[i].Start, err = readTime(start, length); err == nil {
			list[i].End, err = readTime(end, length)
		}
		if err != nil {
			return nil, fmt.Errorf("interval %d: %v %w", i+1, state, err)
		}
		if list[i].End <= list[i].Start {
			return nil, fmt.Errorf("interval %d: %v ends at %g s and starts at %g s", i+1, state, end, start)
		}
	}
	return list, nil
}

// readPoints reads points in their order.
func readPoints(rows []json.RawMessage, length time.Duration) ([]pcg.Point, error) {
	list := make([]pcg.Point, len(rows))
	for i, row := range rows {
		var name string
		var at float64
		fields := [3]any{&name, &at}
		if json.Unmarshal(row, &fields) != nil || fields[0] == nil || fields[1] == nil || fields[2] != nil {
			return nil, fmt.Errorf(`point %d is %s: want ["S1", time], in seconds`, i+1, shown(string(row), maxShown))
		}
		sound, err := pcg.ParseState(name)
		if err != nil || !sound.IsSound() {
			return nil, fmt.Errorf("point %d has the unknown sound %q: there are S1 and S2", i+1, shown(name, maxShown))
		}
		t, err := readTime(at, length)
		if err != nil {
			return nil, fmt.Errorf("point %d: %v %w", i+1, sound, err)
		}
		if i > 0 && t <= list[i-1].At {
			return nil, fmt.Errorf("point %d: %v at %g s does not lie behind the point before it, at %v", i+1, sound, at, list[i-1].At)
		}
		list[i] = pcg.Point{At: t, Sound: sound}
	}
	return list, nil
}

// readTime returns a time within the recording.
func readTime(seconds float64, length time.Duration) (time.Duration, error) {
	switch {
	case !(seconds >= 0):
		return 0, fmt.Errorf("at %g s, before the recording begins", seconds)
	case seconds > (length + slack).Seconds():
		return 0, fmt.Errorf("at %g s, beyond the end of the recording at %g s", seconds, length.Seconds())
	}
	return min(pcg.FromSeconds(seconds), length), nil
}

// around returns the sounds with their durations, centred on points.
func (d *soundDurations) around(points []pcg.Point, length time.Duration) []pcg.Interval {
	list := make([]pcg.Interval, len(points))
	for i, p := range points {
		half := d.of(p.Sound) / 2
		list[i] = pcg.Interval{Start: max(0, p.At-half), End: min(p.At+half, length), State: p.Sound}
	}
	return list
}

// cycleLength returns the median time from one S1 to the next, or 0 where there are
// not two. The one that the recording begins with may be cut, and is left out.
func cycleLength(s *pcg.Segmentation) time.Duration {
	var starts []time.Duration
	for _, p := range s.Points {
		if p.Sound == pcg.S1 {
			starts = append(starts, p.At)
		}
	}
	for _, iv := range s.Intervals {
		if iv.State == pcg.S1 && iv.Start > 0 {
			starts = append(starts, iv.Start)
		}
	}
	n := len(starts) - 1
	if n < 1 {
		return 0
	}
	for i := range n {
		starts[i] = starts[i+1] - starts[i]
	}
	lengths := starts[:n]
	slices.Sort(lengths)
	return lengths[(n-1)/2] + (lengths[n/2]-lengths[(n-1)/2])/2
}
