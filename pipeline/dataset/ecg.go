package dataset

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"time"

	"phonocycle/pipeline/audio/wfdb"
	"phonocycle/pipeline/ecg"
	"phonocycle/pipeline/pcg"
)

// ECG is the electrocardiogram that was recorded with a sound, as it is drawn.
type ECG struct {
	File   string          // the header of its record, below the data root
	Wave   []float64       // below 30 Hz, less its baseline; see [ecg.Trace]
	Rate   float64         // of Wave in hertz
	RWaves []time.Duration // on which two detectors agree
}

// ErrNoECG says that a recording has no ECG.
var ErrNoECG = errors.New("no ECG")

// ECG returns the ECG of a recording where the layout has a reference of kind ecg,
// whichever reference is chosen. The error wraps ErrNoECG if there is none.
func (s *Set) ECG(rec *pcg.Recording) (*ECG, error) {
	r, files, err := s.ecgFiles(rec)
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		signal, _, err := r.readSignal(file)
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, wfdb.ErrNoSignal) {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", Printable(file), err)
		}
		return ecgOf(file, signal)
	}
	return nil, fmt.Errorf("recording %s: %w", rec.ID, ErrNoECG)
}

// ecgFiles returns the rule of the ECG and where it may lie. The layout is compiled
// anew: its reader of paths serves one goroutine, and a Set serves several.
func (s *Set) ecgFiles(rec *pcg.Recording) (r *references, files []string, err error) {
	layout, err := s.Layout.compile()
	if err != nil {
		return nil, nil, err
	}
	i := slices.IndexFunc(layout.references, func(r compiledReference) bool { return r.Kind == pcg.ECGReference })
	if i < 0 {
		return nil, nil, nil
	}
	found := newReferences(&layout.references[i], s.folder)
	r = &found
	for _, template := range r.rule.Paths {
		if file, ok := expandPath(template, layout.paths.of(rec)); ok {
			files = append(files, file)
		}
	}
	return r, files, nil
}

func ecgOf(file string, signal *wfdb.Samples) (e *ECG, err error) {
	e = &ECG{File: file}
	if e.Wave, e.Rate, err = ecg.Trace(signal.Values, signal.Rate); err != nil {
		return nil, fmt.Errorf("%s: %w", Printable(file), err)
	}
	found, err := ecg.Detect(signal.Values, signal.Rate)
	for _, sample := range found.Agreed {
		e.RWaves = append(e.RWaves, ecgTime(sample, signal.Rate))
	}
	return e, err
}
