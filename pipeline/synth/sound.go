package synth

import (
	"math"
	"time"
)

// EdgeLevel is the level of the envelope, as a fraction of the sound's peak, at
// which a sound begins and ends: 10 %, which is −20 dB. Reading a sound's
// duration where its envelope leaves and re-enters 5 to 10 % of the peak is
// common practice; the ear and the eye lose the sound at about this level in a
// recording of ordinary noise.
const EdgeLevel = 0.1

// A Partial is one damped oscillation within a component: its pitch and its
// share of the component's amplitude.
type Partial struct {
	Frequency float64 // Hz
	Share     float64 // relative; the shares of a component are scaled to sum to 1
}

// A Component is the vibration that follows the closing of one valve:
//
//	x(t) = Gain · e(t) · Σ Share_k sin(2π f_k t) / Σ Share_k,   t ≥ 0
//
//	e(t) = (1 − cos(π t/a)) / 2     for t < a, the rise
//	e(t) = exp(−(t − a)/τ)          for t ≥ a, the damped part
//
// so Gain·e(t) bounds |x(t)|. The component lasts for Duration from where e
// rises through EdgeLevel to where it falls through it; Rise is the share of
// Duration that passes before the peak. The two fix a and τ. With a rise of
// some 30 % the middle of the interval lies within the visible body of the
// sound.
type Component struct {
	Gain     float64       // peak of the envelope, as a fraction of full scale
	Duration time.Duration // from EdgeLevel to EdgeLevel
	Rise     float64       // share of Duration before the peak, in (0, 1)
	Partials []Partial
}

// A damping is the envelope of a component in seconds.
type damping struct {
	attack float64 // a, from the first motion to the peak
	decay  float64 // τ, in which the damped part falls by a factor e
	lead   float64 // from the first motion to the beginning of the component
}

// damping solves for the a and the τ that make the component last for Duration
// with its peak at Rise.
func (c Component) damping() damping {
	rising := math.Acos(1-2*EdgeLevel) / math.Pi // share of a in which e stays below EdgeLevel
	before, after := c.Rise*c.Duration.Seconds(), (1-c.Rise)*c.Duration.Seconds()
	a := before / (1 - rising)
	return damping{attack: a, decay: after / -math.Log(EdgeLevel), lead: a * rising}
}

// at returns e(t) for t in seconds after the first motion.
func (d damping) at(t float64) float64 {
	switch {
	case t <= 0:
		return 0
	case t < d.attack:
		return (1 - math.Cos(math.Pi*t/d.attack)) / 2
	default:
		return math.Exp(-(t - d.attack) / d.decay)
	}
}

// above returns the times in seconds after the first motion between which e
// exceeds level, which lies in (0, 1).
func (d damping) above(level float64) (from, to float64) {
	return d.attack * math.Acos(1-2*level) / math.Pi, d.attack - d.decay*math.Log(level)
}

// silence is the level, 120 dB below the peak, where a component is cut off: a
// fifteenth of a step of 16 bit.
const silence = 1e-6

// addTo adds the component to x, sampled at rate hertz, so that it begins at
// seconds after x[0].
func (c Component) addTo(x []float64, rate int, at float64) {
	if c.Gain == 0 {
		return
	}
	total := 0.0
	for _, p := range c.Partials {
		total += p.Share
	}
	d, fs := c.damping(), float64(rate)
	start := at - d.lead
	_, end := d.above(silence)
	first := max(0, int(math.Ceil(start*fs)))
	last := min(len(x), int(math.Ceil((start+end)*fs)))
	for n := first; n < last; n++ {
		t := float64(n)/fs - start
		sum := 0.0
		for _, p := range c.Partials {
			sum += p.Share * math.Sin(2*math.Pi*p.Frequency*t)
		}
		x[n] += c.Gain * d.at(t) * sum / total
	}
}

// A placed component begins, by its own EdgeLevel, delay seconds after the
// first component of its sound.
type placed struct {
	Component
	delay float64
}

// extent returns where a sound begins and ends, in seconds after the beginning
// of its first component: the outermost times at which the envelope of any
// component passes EdgeLevel of the loudest one's peak.
func extent(sound []placed) (from, to float64) {
	peak := 0.0
	for _, p := range sound {
		peak = max(peak, p.Gain)
	}
	from, to = math.Inf(1), math.Inf(-1)
	for _, p := range sound {
		if p.Gain <= EdgeLevel*peak {
			continue
		}
		d := p.damping()
		a, b := d.above(EdgeLevel * peak / p.Gain)
		from, to = min(from, p.delay-d.lead+a), max(to, p.delay-d.lead+b)
	}
	return from, to
}

// firstSample returns the first sample whose time is t or later.
func firstSample(t time.Duration, rate int) int {
	n := int64(t) * int64(rate)
	q := n / int64(time.Second)
	if n%int64(time.Second) > 0 {
		q++
	}
	return int(q)
}
