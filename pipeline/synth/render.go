package synth

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
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

// An Option changes how a heart is recorded, not how it beats; PrematureAt and
// MissedAt are the exception: they plant single beats for a test.
type Option func(*options)

type options struct {
	noise           bool
	colour          Colour
	snr             float64
	clickTimes      []time.Duration
	clicksPerMinute float64
	inverted        bool
	gain            float64
	clip            float64
	planted         map[int]BeatKind
}

func newOptions(opts []Option) options {
	o := options{gain: 1, planted: map[int]BeatKind{}}
	for _, opt := range opts {
		opt(&o)
	}
	return o
}

// WithNoise adds noise at a signal-to-noise ratio in decibels, taken over the
// whole recording.
func WithNoise(colour Colour, snr float64) Option {
	return func(o *options) { o.noise, o.colour, o.snr = true, colour, snr }
}

// WithClicks adds a click at each of the times.
func WithClicks(at ...time.Duration) Option {
	return func(o *options) { o.clickTimes = append(o.clickTimes, at...) }
}

// WithClickRate adds clicks at random times, perMinute on average.
func WithClickRate(perMinute float64) Option {
	return func(o *options) { o.clicksPerMinute = perMinute }
}

// Inverted changes the sign of the recording, as reversed wires of a sensor do.
func Inverted() Option { return func(o *options) { o.inverted = true } }

// WithGain multiplies the recording before it is clipped.
func WithGain(gain float64) Option { return func(o *options) { o.gain = gain } }

// ClippedAt cuts the recording off at ±level, as a fraction of full scale.
func ClippedAt(level float64) Option { return func(o *options) { o.clip = level } }

// PrematureAt makes the beats of the given indices come early. Beat 0 is the
// first whose S1 begins within the recording and cannot be early, nor can a beat
// after one that was early or missed.
func PrematureAt(beats ...int) Option {
	return plant(PrematureBeat, beats)
}

// MissedAt leaves out the beats of the given indices. Beat 0 cannot be missed.
func MissedAt(beats ...int) Option {
	return plant(MissedBeat, beats)
}

func plant(kind BeatKind, beats []int) Option {
	return func(o *options) {
		for _, k := range beats {
			o.planted[k] = kind
		}
	}
}

// Render records a heart for the duration, rounded to the nearest sample, at a
// sampling rate in hertz. The steps are, in this order: sounds,
// murmurs, noise, clicks, polarity, gain, clipping.
//
// It fails if the heart or an option cannot be rendered, saying which.
func Render(h Heart, duration time.Duration, rate int, opts ...Option) (*Recording, error) {
	o := newOptions(opts)
	if rate < MinSamplingRate {
		return nil, fmt.Errorf("sampling rate %d Hz is below %d", rate, MinSamplingRate)
	}
	if err := h.check(rate); err != nil {
		return nil, fmt.Errorf("heart: %w", err)
	}
	n := pcg.ToSamples(duration, rate)
	if n <= 0 {
		return nil, fmt.Errorf("duration %v holds no sample at %d Hz", duration, rate)
	}
	r := &Recording{Rate: rate, Samples: make([]float64, n)}
	if err := o.check(r.Length()); err != nil {
		return nil, err
	}
	beats, err := h.schedule(r.Length(), o.planted)
	if err != nil {
		return nil, fmt.Errorf("heart: %w", err)
	}
	h.sound(r.Samples, rate, beats)
	if err := o.record(r, h.Seed); err != nil {
		return nil, err
	}
	r.Truth = truth(beats, n, rate)
	r.Beats = slices.DeleteFunc(beats, func(b Beat) bool {
		return b.Next <= 0 || b.S1.Start >= r.Length()
	})
	return r, nil
}

func (o *options) check(length time.Duration) error {
	if o.noise {
		if err := o.colour.check(); err != nil {
			return err
		}
		if math.IsNaN(o.snr) || math.IsInf(o.snr, 0) {
			return fmt.Errorf("signal-to-noise ratio %g dB is not a number: leave the noise out for a clean recording", o.snr)
		}
	}
	for _, t := range o.clickTimes {
		if t < 0 || t >= length {
			return fmt.Errorf("click at %v is outside the recording of %v", t, length)
		}
	}
	if !(o.clicksPerMinute >= 0 && o.clicksPerMinute <= 6000) {
		return fmt.Errorf("%g clicks per minute is not between 0 and 6000", o.clicksPerMinute)
	}
	if !(o.gain > 0) || math.IsInf(o.gain, 0) {
		return fmt.Errorf("gain %g is not a positive number", o.gain)
	}
	if !(o.clip >= 0 && o.clip <= 1) {
		return fmt.Errorf("clipping level %g is not between 0 and 1", o.clip)
	}
	for k := range o.planted {
		if k <= 0 {
			return errors.New("a planted beat has an index below 1: beat 0, the first in the recording, is always regular")
		}
	}
	return nil
}

// sound adds the sounds and the murmurs of the beats.
func (h *Heart) sound(x []float64, rate int, beats []Beat) {
	for _, b := range beats {
		if b.Kind == MissedBeat {
			continue
		}
		play(x, rate, h.s1(), b.S1.Start, b.loudness1)
		play(x, rate, h.s2(b.Split), b.S2.Start, b.loudness2)
		if third := b.S2.Start + h.S3Delay; third+h.S3.Duration+minGap <= b.Next {
			play(x, rate, []placed{{h.S3, 0}}, third, b.loudness2)
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
		if !p.Silent() {
			p.scaled(loudness, 1).addTo(x, rate, at.Seconds()-from+p.delay)
		}
	}
}

// record adds what the room and the stethoscope do to the sound of the heart.
func (o *options) record(r *Recording, seed uint64) error {
	x := r.Samples
	if o.noise {
		if meanSquare(x) == 0 {
			return fmt.Errorf("signal-to-noise ratio of %g dB: the recording of %v has no sound to compare with: make it longer", o.snr, r.Length())
		}
		addNoise(x, r.Rate, o.colour, o.snr, stream(seed, "noise"))
	}
	r.Clicks = addClicks(x, r.Rate, o.clickTimes, o.clicksPerMinute, stream(seed, "clicks"))
	gain := o.gain
	if o.inverted {
		gain = -gain
	}
	for i := range x {
		x[i] *= gain
	}
	if o.clip > 0 {
		for i, v := range x {
			x[i] = max(-o.clip, min(o.clip, v))
		}
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
