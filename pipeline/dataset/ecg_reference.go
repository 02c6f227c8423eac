package dataset

import (
	"math"
	"time"

	"phonocycle/pipeline/ecg"
	"phonocycle/pipeline/pcg"
)

// What an ECG must show to be a reference.
const (
	leastAgreement = 85 // % of the beats on which two detectors of R waves agree
	leastBeats     = 8  // on which they agree
)

// ecgReference returns what an ECG says about the sounds of a recording: a point for
// S1 at each R wave on which two detectors agree within [ecg.Tolerance], later by the
// delay, and the stretches between points that are not annotated, since a beat there
// is in dispute or may be lost. Each such stretch reaches from the point before to the
// point behind, so that nothing predicted between them counts as false. S2 is not
// marked.
//
// The ECG has rate samples per second; its first sample and that of the recording are
// of one time. Points outside the recording are left out; a length of 0 is unknown.
//
// Where the detectors agree on less than 85 % of the beats, or on fewer than eight,
// the ECG is no reference. That is a defect of the file.
func ecgReference(file string, x []float64, rate float64, delay, length time.Duration) (points []pcg.Point, unannotated []pcg.Interval, defects []Defect) {
	found, err := ecg.Detect(x, rate)
	if err != nil {
		return nil, nil, []Defect{ecgUnusable.at(file, 0, err)}
	}
	agreed, all := len(found.Agreed), len(found.Agreed)+len(found.Disputed)
	switch {
	case agreed < leastBeats:
		return nil, nil, []Defect{ecgFewBeats.at(file, 0, agreed, leastBeats)}
	case 100*agreed < leastAgreement*all:
		return nil, nil, []Defect{ecgDisputed.at(file, 0, agreed, all, 100*found.Agreement(), leastAgreement)}
	}
	s1 := func(sample int) time.Duration { return ecgTime(sample, rate) + delay }
	within := func(t time.Duration) bool { return t >= 0 && (length == 0 || t < length) }
	for _, sample := range found.Agreed {
		if t := s1(sample); within(t) {
			points = append(points, pcg.Point{At: t, Sound: pcg.S1})
		}
	}
	for _, span := range found.Unsure {
		if start, end := s1(span.Start), s1(span.End); within(start) && within(end) {
			unannotated = append(unannotated, pcg.Interval{Start: start, End: end})
		}
	}
	return points, unannotated, nil
}

// ecgTime returns the time of a sample of an ECG.
func ecgTime(sample int, rate float64) time.Duration {
	return time.Duration(math.Round(float64(sample) / rate * float64(time.Second)))
}
