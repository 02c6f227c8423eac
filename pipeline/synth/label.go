package synth

import "time"

// The values of the label "condition": what makes a recording hard for a
// method. The first that applies counts.
const (
	Unusable  = "unusable"  // no audio, or less than two seconds of it
	Noisy     = "noisy"     // noise of less than 20 dB below the heart, clicks or clipping
	Irregular = "irregular" // a heart with early or missed beats
	Murmured  = "murmur"    // a murmur between the sounds
	Clean     = "clean"     // none of these
)

// cleanSNR is the signal-to-noise ratio in decibels from which a recording is
// not called noisy; usableLength is the shortest in which a rhythm can be found.
// Both are choices of ours.
const (
	cleanSNR     = 20
	usableLength = 2 * time.Second
)

// condition returns the label of a take.
func (p *Person) condition(t *Take) string {
	switch {
	case t.File != AudioFile || t.Duration < usableLength:
		return Unusable
	case t.SNR != nil && *t.SNR < cleanSNR, t.Clicks > 0, t.Clip > 0:
		return Noisy
	case p.Premature > 0, p.Missed > 0:
		return Irregular
	case len(p.Murmurs) > 0:
		return Murmured
	}
	return Clean
}

// ageGroup returns the label for an age in years.
func ageGroup(age int) string {
	switch {
	case age < 13:
		return "child"
	case age < adult:
		return "adolescent"
	case age < 65:
		return "adult"
	}
	return "older adult"
}
