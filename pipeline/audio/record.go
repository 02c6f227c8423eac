package audio

import (
	"fmt"
	"math"

	"phonocycle/pipeline/audio/wfdb"
)

// OpenSignal is [Decoder.Open] for a signal of a WFDB record, which has that many
// signals.
func (d *Decoder) OpenSignal(r *wfdb.Reader, signals int) (*Clip, error) {
	if !(r.Rate >= MinRate && r.Rate <= MaxRate) || r.Rate != math.Trunc(r.Rate) {
		return nil, fmt.Errorf("%w: %g Hz: want a whole number of %d to %d", ErrRate, r.Rate, MinRate, MaxRate)
	}
	d.clip = Clip{
		Samples:       d.clip.Samples[:0],
		Frames:        r.Len,
		Rate:          int(r.Rate),
		Channels:      signals,
		BitsPerSample: r.Bits,
		Encoding:      fmt.Sprintf("WFDB format %d", r.Signal.Format),
	}
	d.signal = r
	return &d.clip, nil
}

// readSignal fills d.clip.Samples from the signal that was opened last.
func (d *Decoder) readSignal() error {
	x := d.clip.Samples
	if err := d.signal.Read(x, float64(d.signal.Signal.Zero), math.Ldexp(1, d.signal.Bits-1)); err != nil {
		return err
	}
	peak, bad := magnitude(x)
	if bad >= 0 {
		return fmt.Errorf("%w: %s has no sample at number %d, %.3f s: cut the recording before it, or fill the gap",
			ErrNotFinite, d.signal.Signal.File, bad+1, float64(bad)/d.signal.Rate)
	}
	d.clip.Repairs = append(d.clip.Repairs, d.signal.Warnings...)
	if peak > 1 {
		d.note("peak %.9g above full scale 1; kept as it is", peak)
	}
	return nil
}
