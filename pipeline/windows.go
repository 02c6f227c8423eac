package pipeline

import (
	"context"
	"slices"
	"time"

	"phonocycle/features"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/table/export"
	"phonocycle/pipeline/workers"
)

// windowsOutput is the table windows, with one row per excerpt of a recording, and
// the same as NumPy files where the rules ask for them.
type windowsOutput struct {
	*partTable[table.Window]
	rules *config.WindowRules
}

// excerpts are the windows of one recording: the filtered recording once, and
// where in it each window begins. The windows are cut only when they are
// written: those that overlap would hold every sample several times.
type excerpts struct {
	signal []float32
	states []uint8
	rows   []table.Window
}

func newWindows(run *setup.Run) (output, error) {
	rules := run.Config.Windows
	n := rules.Samples()
	samples, states := make([]float32, n), make([]uint8, n) // of one window
	return &windowsOutput{rules: rules, partTable: newPartTable(run, WindowColumns(run.Labels, n),
		func(r *result, value any, add func(table.Window, table.DynamicValues) error) error {
			e, ok := value.(*excerpts)
			if !ok {
				return nil // the recording failed
			}
			cells := table.DynamicValues{Labels: r.labels, Vectors: [][]float32{samples}, Bytes: [][]uint8{states}}
			for _, row := range e.rows {
				from := pcg.ToSamples(row.Start, signal.AnalysisRate)
				to := from + int(row.Samples)
				clear(samples[copy(samples, e.signal[from:to]):])
				clear(states[copy(states, e.states[from:to]):])
				if err := add(row, cells); err != nil {
					return err
				}
			}
			return nil
		})}, nil
}

func (o *windowsOutput) names() []string {
	if o.rules.Format == config.FormatNumPy {
		return append(o.partTable.names(), export.ArrayFiles...)
	}
	return o.partTable.names()
}

// finish writes the NumPy files from the table when all parts are there: how many
// windows there are is not known before, and so they do not depend on which parts
// were there already.
func (o *windowsOutput) finish(context.Context, *rundir.Report, workers.Progress) error {
	if o.rules.Format == config.FormatNumPy {
		return export.WriteArrays(o.dir)
	}
	return nil
}

// WindowColumns are the dynamic columns of windows of n samples.
func WindowColumns(labels []table.Column, n int) []table.Column {
	return append(slices.Clone(labels),
		table.Column{Name: "signal", Unit: "FS", Kind: table.FloatVector, Length: n,
			Doc: "samples at 1 kHz, band-limited to 25 to 400 Hz (Butterworth, order 2, forwards and backwards over the whole recording), in parts of full scale"},
		table.Column{Name: "state", Unit: "1", Kind: table.ByteVector, Length: n,
			Doc: "state of each sample: 1 S1, 2 systole, 3 S2, 4 diastole, 0 not annotated or after the last sample"},
	)
}

func (o *windowsOutput) newMeasure() func(*result) (any, error) {
	return func(r *result) (any, error) { return o.excerpts(r, r.loaded.Band()), nil }
}

// excerpts lists the windows of a recording, given its filtered samples at the
// analysis rate.
func (o *windowsOutput) excerpts(r *result, filtered []float64) *excerpts {
	n, row := len(filtered), &r.row
	e := &excerpts{signal: make([]float32, n), states: make([]uint8, n)}
	for i, v := range filtered {
		e.signal[i] = float32(v)
	}
	for _, iv := range r.Intervals {
		from, to := sampleAt(iv.Start, n), sampleAt(iv.End, n)
		for i := from; i < to; i++ {
			e.states[i] = uint8(iv.State)
		}
	}
	for i, place := range places(o.rules, r.Intervals, n) {
		length := place[1] - place[0]
		e.rows = append(e.rows, table.Window{
			Recording: row.Recording, DataSet: row.DataSet, Person: row.Person, Site: row.Site, Fold: row.Fold,
			Origin: row.SegmentationSource, Method: row.Method, ModelDigest: row.ModelDigest, PersonInTrainingData: row.PersonInTrainingData,
			Index: int32(i), Start: pcg.FromSamples(int64(place[0]), signal.AnalysisRate),
			Samples: int32(min(length, o.rules.Samples())), Cut: length > o.rules.Samples(),
		})
	}
	return e
}

// places returns the samples [first, end) of each window of a recording of n
// samples. A cycle may be longer than a window.
func places(r *config.WindowRules, intervals []pcg.Interval, n int) [][2]int {
	if r.Align == config.AlignCycle {
		return cyclePlaces(intervals, n)
	}
	return fixedPlaces(r, n)
}

// sampleAt returns the number of the sample at t, of n.
func sampleAt(t time.Duration, n int) int { return min(pcg.ToSamples(t, signal.AnalysisRate), n) }

// cyclePlaces returns the samples of each whole cycle.
func cyclePlaces(intervals []pcg.Interval, n int) [][2]int {
	var places [][2]int
	for c := range features.WholeCycles(intervals) {
		places = append(places, [2]int{sampleAt(c[0], n), sampleAt(c[4], n)})
	}
	return places
}

// fixedPlaces returns the samples of windows at a fixed distance that fit into n
// samples. A recording shorter than a window has one, which zeros fill up.
func fixedPlaces(r *config.WindowRules, n int) [][2]int {
	if n < r.Samples() {
		return [][2]int{{0, n}}
	}
	var places [][2]int
	for from := 0; from+r.Samples() <= n; from += r.HopSamples() {
		places = append(places, [2]int{from, from + r.Samples()})
	}
	return places
}
