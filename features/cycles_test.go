package features

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// spans returns the intervals with the given states and ends, the first from
// the given start.
func spans(start time.Duration, ends []time.Duration, states ...pcg.State) []pcg.Interval {
	iv := make([]pcg.Interval, len(states))
	for i, s := range states {
		iv[i] = pcg.Interval{Start: start, End: ends[i], State: s}
		start = ends[i]
	}
	return iv
}

// The rule of a whole cycle is that of package pcg; here no gap is allowed, and
// no S1 that starts with the recording.
func TestWholeCycles(t *testing.T) {
	const a, b, c, d = pcg.S1, pcg.Systole, pcg.S2, pcg.Diastole
	ends := []time.Duration{20, 30, 40, 50, 60, 70, 80, 90, 100, 110}
	gap := spans(10, ends, a, b, c, d, a)
	gap[3].Start++
	for _, test := range []struct {
		name string
		in   []pcg.Interval
		want []pcg.CycleTimes
	}{
		{"two", spans(10, ends, a, b, c, d, a, b, c, d, a), []pcg.CycleTimes{{10, 20, 30, 40, 50}, {50, 60, 70, 80, 90}}},
		{"S1 cut by the start", spans(0, ends, a, b, c, d, a, b, c, d, a), []pcg.CycleTimes{{50, 60, 70, 80, 90}}},
		{"gap", gap, nil},
	} {
		if diff := cmp.Diff(test.want, slices.Collect(WholeCycles(test.in))); diff != "" {
			t.Errorf("%s: (-want +got)\n%s", test.name, diff)
		}
	}
}

func TestExtractRefuses(t *testing.T) {
	x := make([]float64, 1000)
	good := Input{Raw: x, RawRate: 1000, Wave: signal.NewWaveform(x)}
	with := func(change func(*Input)) Input {
		in := good
		change(&in)
		return in
	}
	const s = time.Second
	for _, test := range []struct {
		in   Input
		want string
	}{
		{with(func(in *Input) { in.RawRate = 0 }), "sampling rate of the raw signal is 0 Hz"},
		{with(func(in *Input) { in.Intervals = spans(s/2, []time.Duration{2 * s}, pcg.S1) }), "interval 0: S1 [0.500 s, 2.000 s) ends after the recording, at 1.000 s"},
		{with(func(in *Input) { in.Intervals = spans(s/2, []time.Duration{s / 2}, pcg.S1) }), "has no length"},
		{with(func(in *Input) {
			in.Intervals = append(spans(s/2, []time.Duration{s}, pcg.S1), spans(s/4, []time.Duration{s}, pcg.S1)...)
		}), "interval 1: S1 [0.250 s, 1.000 s) begins before 1.000 s"},
	} {
		if _, err := NewExtractor().Extract(test.in); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("error %v, want one with %q", err, test.want)
		}
	}
	if _, err := NewExtractor().Extract(good); err != nil {
		t.Error(err)
	}
}
