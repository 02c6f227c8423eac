package config

import (
	"fmt"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/signal"
)

// Alignments of windows.
const (
	AlignCycle = "cycle" // one window per cardiac cycle, from the start of its S1
	AlignFixed = "fixed" // windows at a fixed distance, from the start of the recording
)

// Formats of windows.
const (
	FormatParquet = "parquet" // the table windows
	FormatNumPy   = "npy"     // and beside it arrays as NumPy files
)

// WindowRules say how recordings are cut into windows for a network.
type WindowRules struct {
	Align  string   `yaml:"align" json:"align"`             // cycle or fixed
	Length Duration `yaml:"length" json:"length"`           // of every window
	Hop    Duration `yaml:"hop" json:"hop,omitempty"`       // from one fixed window to the next
	Format string   `yaml:"format" json:"format,omitempty"` // parquet, the default, or npy
}

// DefaultWindowRules returns the rules that windows are cut by unless told
// otherwise: a window holds a cycle at 30 beats per minute.
func DefaultWindowRules() WindowRules {
	return WindowRules{Align: AlignCycle, Length: Duration(2 * time.Second), Hop: Duration(time.Second), Format: FormatParquet}
}

// longestWindow bounds the length of a window, which stands in one cell of a
// table.
const longestWindow = 10 * time.Minute

// Check returns an error for the first value with which no window can be cut.
func (r *WindowRules) Check() error {
	switch {
	case r.Align != AlignCycle && r.Align != AlignFixed:
		return fmt.Errorf("windows aligned by %q: want %s or %s", r.Align, AlignCycle, AlignFixed)
	case r.Format != "" && r.Format != FormatParquet && r.Format != FormatNumPy:
		return fmt.Errorf("windows in format %q: want %s or %s", r.Format, FormatParquet, FormatNumPy)
	case r.Samples() < 1 || time.Duration(r.Length) > longestWindow:
		return fmt.Errorf("windows of length %v: want 1ms to %v", r.Length, longestWindow)
	case r.Align == AlignFixed && r.HopSamples() < 1:
		return fmt.Errorf("windows with a hop of %v: want at least 1ms", r.Hop)
	}
	return nil
}

// Samples returns the length of a window in samples at the analysis rate.
func (r *WindowRules) Samples() int {
	return pcg.ToSamples(time.Duration(r.Length), signal.AnalysisRate)
}

// HopSamples returns the distance of fixed windows in samples.
func (r *WindowRules) HopSamples() int {
	return pcg.ToSamples(time.Duration(r.Hop), signal.AnalysisRate)
}
