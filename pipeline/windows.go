package pipeline

import (
	"context"
	"fmt"
	"slices"
	"time"

	"phonocycle/features"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
)

// Alignments of windows.
const (
	AlignCycle = "cycle" // one window a cardiac cycle, from the start of its S1
	AlignFixed = "fixed" // windows at a fixed distance, from the start of the recording
)

// WindowRules say how recordings are cut into windows for a network.
type WindowRules struct {
	Align  string   `yaml:"align" json:"align"`       // cycle or fixed
	Length Duration `yaml:"length" json:"length"`     // of every window
	Hop    Duration `yaml:"hop" json:"hop,omitempty"` // from one fixed window to the next
}

// DefaultWindowRules returns the rules that windows are cut by unless told
// otherwise: a window holds a cycle of 30 beats a minute.
func DefaultWindowRules() WindowRules {
	return WindowRules{Align: AlignCycle, Length: Duration(2 * time.Second), Hop: Duration(time.Second)}
}

// longestWindow bounds the length of a window, which stands in one cell of a
// table.
const longestWindow = 10 * time.Minute

// check reports the first thing in r by which no window could be cut.
func (r *WindowRules) check() error {
	switch {
	case r.Align != AlignCycle && r.Align != AlignFixed:
		return fmt.Errorf("windows aligned by %q: want %s or %s", r.Align, AlignCycle, AlignFixed)
	case r.samples() < 1 || time.Duration(r.Length) > longestWindow:
		return fmt.Errorf("windows of length %v: want 1ms to %v", r.Length, longestWindow)
	case r.Align == AlignFixed && r.hop() < 1:
		return fmt.Errorf("windows with a hop of %v: want at least 1ms", r.Hop)
	}
	return nil
}

// samples returns the length of a window in samples at the analysis rate.
func (r *WindowRules) samples() int { return pcg.ToSamples(time.Duration(r.Length), AnalysisRate) }

func (r *WindowRules) hop() int { return pcg.ToSamples(time.Duration(r.Hop), AnalysisRate) }

// Windows cuts the recordings into windows by the rules of c, with the states of
// the given source ("predicted" or "reference") in the output folder states,
// and writes the tables recordings and windows.
func Windows(ctx context.Context, c Config, states, source string, p Progress) (*Report, error) {
	rules := DefaultWindowRules()
	if c.Windows != nil {
		rules = *c.Windows
	}
	if err := rules.check(); err != nil {
		return nil, err
	}
	if rules.Align == AlignCycle {
		rules.Hop = 0 // has no meaning, and must not make two plans differ
	}
	c.Windows = &rules
	return execute(ctx, c, stage{name: "windows", cuts: true, statesDir: states, source: source}, p)
}

// windowColumns are the dynamic columns of the table windows.
func (j *job) windowColumns() []table.Column {
	n := j.config.Windows.samples()
	return append(slices.Clone(j.labels),
		table.Column{Name: "signal", Unit: "FS", Kind: table.FloatVector, Length: n,
			Doc: "samples at 1 kHz, band-limited to 25 to 400 Hz (Butterworth, order 2, forwards and backwards over the whole recording), in parts of full scale"},
		table.Column{Name: "state", Unit: "1", Kind: table.ByteVector, Length: n,
			Doc: "state of each sample: 1 S1, 2 systole, 3 S2, 4 diastole, 0 not annotated or after the last sample"},
	)
}

// excerpts are the windows of one recording: the conditioned recording once, and
// where in it each window begins. The windows are cut only when they are
// written, since those that overlap would hold every sample several times.
type excerpts struct {
	signal []float32
	states []uint8
	rows   []table.Window
}

// newExcerpts lists the windows of a recording.
func newExcerpts(w *signal.Waveform, intervals []pcg.Interval, r *WindowRules, of *table.Recording) excerpts {
	y := w.Band()
	e := excerpts{signal: make([]float32, len(y)), states: make([]uint8, len(y))}
	for i, v := range y {
		e.signal[i] = float32(v)
	}
	for _, iv := range intervals {
		from, to := sampleAt(iv.Start, len(y)), sampleAt(iv.End, len(y))
		for i := from; i < to; i++ {
			e.states[i] = uint8(iv.State)
		}
	}
	for i, place := range r.places(intervals, len(y)) {
		e.rows = append(e.rows, table.Window{
			Recording: of.Recording, DataSet: of.Source, Person: of.Person, Site: of.Site, Fold: of.Fold,
			Source: of.SegmentationSource, Method: of.Method, ModelDigest: of.ModelDigest, MethodKnowsPerson: of.MethodKnowsPerson,
			Index: int32(i), Start: pcg.FromSamples(int64(place[0]), AnalysisRate),
			Samples: int32(min(place[1]-place[0], r.samples())), Cut: place[1]-place[0] > r.samples(),
		})
	}
	return e
}

// places returns the first sample of each window of n samples and the one after
// its last; a cycle may be longer than a window.
func (r *WindowRules) places(intervals []pcg.Interval, n int) [][2]int {
	if r.Align == AlignCycle {
		return cyclePlaces(intervals, n)
	}
	return fixedPlaces(n, r)
}

// sampleAt returns the number of the sample at t, of n.
func sampleAt(t time.Duration, n int) int { return min(pcg.ToSamples(t, AnalysisRate), n) }

// cyclePlaces returns the first sample of each whole cycle and the one after its
// last.
func cyclePlaces(intervals []pcg.Interval, n int) [][2]int {
	var places [][2]int
	for c := range features.WholeCycles(intervals) {
		places = append(places, [2]int{sampleAt(c[0], n), sampleAt(c[4], n)})
	}
	return places
}

// fixedPlaces returns the places of windows at a fixed distance that fit into n
// samples. A recording shorter than a window has one, which zeros fill up.
func fixedPlaces(n int, r *WindowRules) [][2]int {
	if n < r.samples() {
		return [][2]int{{0, n}}
	}
	var places [][2]int
	for from := 0; from+r.samples() <= n; from += r.hop() {
		places = append(places, [2]int{from, from + r.samples()})
	}
	return places
}

// windowWriter cuts windows and writes them to the table of one part. The
// buffers hold one window.
type windowWriter struct {
	*table.Writer[table.Window]
	signal []float32
	states []uint8
}

func newWindowWriter(j *job, f *table.Format[table.Window], part int) (*windowWriter, error) {
	w, err := createPart(j, f, part)
	if err != nil {
		return nil, err
	}
	n := j.config.Windows.samples()
	return &windowWriter{w, make([]float32, n), make([]uint8, n)}, nil
}

// write writes the windows of one recording.
func (w *windowWriter) write(e *excerpts, labels []string) error {
	cells := table.Cells{Labels: labels, Vectors: [][]float32{w.signal}, Bytes: [][]uint8{w.states}}
	for _, row := range e.rows {
		from := pcg.ToSamples(row.Start, AnalysisRate)
		to := from + int(row.Samples)
		clear(w.signal[copy(w.signal, e.signal[from:to]):])
		clear(w.states[copy(w.states, e.states[from:to]):])
		if err := w.Append(row, cells); err != nil {
			return err
		}
	}
	return nil
}
