package synth

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/synth/noise"
)

// MinSamplingRate is the lowest sampling rate in hertz that can be rendered.
const MinSamplingRate = 500

// A Recording is a rendered heart.
type Recording struct {
	Rate    int       // sampling rate in hertz
	Samples []float64 // full scale is ±1

	// Truth covers the recording from its first sample to its last in the order
	// of the cycle. Its boundaries lie on samples: sample n belongs to a sound if
	// its time n/Rate does.
	Truth []pcg.Interval

	Beats  []Beat          // every beat that reaches into the recording, missed ones included
	Clicks []time.Duration // the first sample of each click
}

// Length returns the length of the recording.
func (r *Recording) Length() time.Duration {
	return pcg.FromSamples(int64(len(r.Samples)), r.Rate)
}

// An Option changes how a heart is recorded, not how it beats.
type Option func(*Take)

// WithNoise adds noise at a signal-to-noise ratio in decibels, taken over the
// whole recording.
func WithNoise(colour Colour, snr float64) Option {
	return func(t *Take) { t.Noise, t.SNR = colour, &snr }
}

// Render records a heart for the duration, rounded to the nearest sample, at a
// sampling rate in hertz.
//
// It fails if the heart or an option cannot be rendered, saying which.
func Render(h Heart, duration time.Duration, rate int, opts ...Option) (*Recording, error) {
	t := Take{Duration: duration}
	for _, opt := range opts {
		opt(&t)
	}
	if err := t.checkSound(); err != nil {
		return nil, err
	}
	return h.record(&t, rate)
}

// record makes the recording of a take that was checked. The steps are, in this
// order: sounds, murmurs, noise, clicks, polarity, gain, clipping.
func (h *Heart) record(t *Take, rate int) (*Recording, error) {
	if rate < MinSamplingRate {
		return nil, fmt.Errorf("sampling rate %d Hz is below %d", rate, MinSamplingRate)
	}
	if err := h.check(rate); err != nil {
		return nil, fmt.Errorf("heart: %w", err)
	}
	n := pcg.ToSamples(t.Duration, rate)
	if n <= 0 {
		return nil, fmt.Errorf("duration %v holds no sample at %d Hz", t.Duration, rate)
	}
	r := &Recording{Rate: rate, Samples: make([]float64, n)}
	beats, err := h.schedule(r.Length())
	if err != nil {
		return nil, fmt.Errorf("heart: %w", err)
	}
	h.sound(r.Samples, rate, beats)
	if err := t.addSurroundings(r, h.Seed); err != nil {
		return nil, err
	}
	r.Truth = truth(beats, n, rate)
	r.Beats = slices.DeleteFunc(beats, func(b Beat) bool {
		return b.Next <= 0 || b.S1.Start >= r.Length()
	})
	return r, nil
}

// sound adds the sounds and the murmurs of the beats.
func (h *Heart) sound(x []float64, rate int, beats []Beat) {
	for _, b := range beats {
		if b.Kind == MissedBeat {
			continue
		}
		play(x, rate, h.s1(), b.S1.Start, b.loudness1)
		play(x, rate, h.s2(b.Split), b.S2.Start, b.loudness2)
		if third := b.S2.Start + h.s3Delay; third+h.s3.Duration+minGap <= b.Next {
			play(x, rate, []placed{{h.s3, 0}}, third, b.loudness2)
		}
	}
	for i, m := range h.Murmurs {
		m.addTo(x, rate, beats, stream(h.Seed, fmt.Sprintf("murmur %d", i+1)))
	}
}

// play adds a sound so that it begins, by EdgeLevel, at the given time.
func play(x []float64, rate int, sound []placed, at time.Duration, loudness float64) {
	from, _ := extent(sound)
	for _, p := range sound {
		p.Gain *= loudness
		p.addTo(x, rate, at.Seconds()-from+p.delay)
	}
}

// addSurroundings adds what the room and the stethoscope do to the sound of the
// heart.
func (t *Take) addSurroundings(r *Recording, seed uint64) error {
	x := r.Samples
	if t.SNR != nil {
		if noise.Power(x) == 0 {
			return fmt.Errorf("signal-to-noise ratio of %g dB: the recording of %v has no sound to compare with: make it longer", *t.SNR, r.Length())
		}
		addNoise(x, r.Rate, t.Noise, *t.SNR, stream(seed, "noise"))
	}
	if t.Clicks > 0 {
		r.Clicks = addClicks(x, r.Rate, t.Clicks, stream(seed, "clicks"))
	}
	gain := cmp.Or(t.Gain, 1)
	if t.Inverted {
		gain = -gain
	}
	limit := cmp.Or(t.Clip, math.Inf(1))
	for i, v := range x {
		x[i] = max(-limit, min(limit, gain*v))
	}
	return nil
}

// truth cuts the beats to n samples at rate hertz and fills the silences.
func truth(beats []Beat, n, rate int) []pcg.Interval {
	type start struct {
		sample int
		state  pcg.State
	}
	var starts []start
	for _, b := range beats {
		if b.Kind == MissedBeat {
			continue
		}
		starts = append(starts,
			start{firstSample(b.S1.Start, rate), pcg.S1},
			start{firstSample(b.S1.End, rate), pcg.Systole},
			start{firstSample(b.S2.Start, rate), pcg.S2},
			start{firstSample(b.S2.End, rate), pcg.Diastole})
	}
	var intervals []pcg.Interval
	for i, s := range starts {
		from, to := max(0, s.sample), n
		if i+1 < len(starts) {
			to = min(n, starts[i+1].sample)
		}
		if from < to {
			intervals = append(intervals, pcg.Interval{
				Start: pcg.FromSamples(int64(from), rate),
				End:   pcg.FromSamples(int64(to), rate),
				State: s.state,
			})
		}
	}
	return intervals
}
