package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"phonocycle/pipeline/pcg"
)

// minGap is the shortest silence between two sounds.
const minGap = 20 * time.Millisecond

// minPrematureGap is the shortest time from the end of S2 to a premature beat.
const minPrematureGap = 40 * time.Millisecond

// faintS2 is the gain of S2 after a premature beat, relative to other beats: the
// ventricle has had no time to fill. The figure is a choice of ours.
const faintS2 = 0.6

// prior is the number of beats before the recording. Two are enough for every
// sound and murmur that continues into it.
const prior = 2

// schedule lays the beats over [0, length). A beat that follows an early or a
// missed one is regular, and so is beat 0.
func (h *Heart) schedule(length time.Duration) ([]Beat, error) {
	var (
		rhythm = stream(h.Seed, "rhythm")
		ectopy = stream(h.Seed, "ectopy")
		mean   = cycleLength(h.Rate)
		phase  = 2 * math.Pi * rhythm.Float64()
		first  = time.Duration(rhythm.Float64() * float64(mean))
		at     = first - prior*mean
		beats  []Beat
	)
	breath := func(t time.Duration) float64 { // 1 at the height of inspiration, −1 of expiration
		return math.Sin(2*math.Pi*h.Breathing.Rate/60*t.Seconds() + phase)
	}
	for k := -prior; at < length+mean; k++ {
		b := Beat{Index: k}
		cycle := stretch(mean, 1-h.Breathing.Swing*breath(at)+h.CycleVariation*gauss(rhythm))
		systole := stretch(h.Law.Systole(h.Rate), 1+h.systoleVariation*gauss(rhythm))
		b.loudness1 = 1 + h.loudnessVariation*gauss(rhythm)
		b.loudness2 = 1 + h.loudnessVariation*gauss(rhythm)
		premature := ectopy.Float64() < h.Premature
		missed := ectopy.Float64() < h.Missed
		if k < 0 {
			cycle = mean // so that beat 0 begins where first says
		}
		last := len(beats) - 1
		afterRegular := k > 0 && beats[last].Kind == RegularBeat
		switch {
		case missed && afterRegular:
			b.Kind = MissedBeat
			b.S1 = pcg.Interval{Start: at, End: at, State: pcg.S1}
			b.S2 = pcg.Interval{Start: at, End: at, State: pcg.S2}
			at += cycle
			beats = append(beats, b)
			continue
		case premature && afterRegular:
			b.Kind = PrematureBeat
			b.loudness2 *= faintS2
			before := beats[last].S1.Start
			early := max(before+stretch(mean, h.coupling), beats[last].S2.End+minPrematureGap)
			if early < at {
				cycle = at + cycle - early
				at = early
			}
		}
		out, in := h.Breathing.SplitExpiration, h.Breathing.SplitInspiration
		b.Split = out + stretch(in-out, (1+breath(at+systole))/2)
		b.S1 = pcg.Interval{Start: at, End: at + lengthOf(h.s1()), State: pcg.S1}
		b.S2 = pcg.Interval{Start: at + systole, End: at + systole + lengthOf(h.s2(b.Split)), State: pcg.S2}
		if gap := b.S2.Start - b.S1.End; gap < minGap {
			return nil, fmt.Errorf("beat %d at %.3f s: only %v between S1 and S2 at %g bpm, less than %v: shorten the sounds or lower the rate", k, at.Seconds(), gap, h.Rate, minGap)
		}
		if gap := at + cycle - b.S2.End; gap < minGap {
			return nil, fmt.Errorf("beat %d at %.3f s: only %v between S2 and the next S1 at %g bpm, less than %v: shorten the sounds, lower the rate or the variation", k, at.Seconds(), gap, h.Rate, minGap)
		}
		beats = append(beats, b)
		at += cycle
	}
	link(beats, at)
	return beats, nil
}

// link sets Next of each beat to the S1 that follows it; end is that of the last.
func link(beats []Beat, end time.Duration) {
	for i := len(beats) - 1; i >= 0; i-- {
		beats[i].Next = end
		if beats[i].Kind != MissedBeat {
			end = beats[i].S1.Start
		}
	}
}

func lengthOf(sound []placed) time.Duration {
	from, to := extent(sound)
	return pcg.FromSeconds(to - from)
}

func (h *Heart) s1() []placed {
	return []placed{{h.m1, 0}, {h.t1, h.t1Delay.Seconds()}}
}

func (h *Heart) s2(split time.Duration) []placed {
	return []placed{{h.a2, 0}, {h.p2, split.Seconds()}}
}

// gauss returns a standard normal deviate held within ±3, so that no beat is
// an outlier.
func gauss(rng *rand.Rand) float64 {
	return max(-3, min(3, rng.NormFloat64()))
}
