package synth

import "time"

// The labels that a recording carries in the data set, apart from those of the
// table itself.
const (
	CleanQuality    = "clean"
	NoisyQuality    = "noisy"
	UnusableQuality = "unusable"
)

// cleanSNR is the signal-to-noise ratio in decibels from which a recording can
// be called clean; usableLength is the shortest in which a rhythm can be found.
const (
	cleanSNR     = 20
	usableLength = 2 * time.Second
)

// quality returns the label of a take: unusable without audio or with less than
// two seconds of it; clean if nothing disturbs it, that is with a signal-to-noise
// ratio of 20 dB or more, without clicks or clipping, and of a heart without
// early or missed beats; noisy otherwise. A murmur disturbs nothing: it belongs
// to the heart.
func (p *Person) quality(t *Take) string {
	switch {
	case t.File != AudioFile || t.Duration < usableLength:
		return UnusableQuality
	case t.SNR != nil && *t.SNR < cleanSNR, t.Clicks > 0, t.Clip > 0, p.Premature > 0, p.Missed > 0:
		return NoisyQuality
	}
	return CleanQuality
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
