package ecg

import (
	"math"
	"time"
)

// The detector of Pan J., Tompkins W. J. A real-time QRS detection algorithm. IEEE
// Trans Biomed Eng 1985;32:230–236, doi 10.1109/TBME.1985.325532 (all constants
// from memory). With x the ECG and fs its rate:
//
//	b = x between 5 and 15 Hz                              most of the energy of a QRS complex
//	d(n) = (−b(n−2k) − 2b(n−k) + 2b(n+k) + b(n+2k)) / 8    slope, k = 5 ms
//	e(n) = mean of d² over 150 ms                          as long as the widest QRS complex
//
// A local maximum of e is a QRS complex where e and |b| both exceed a threshold,
//
//	noise + (beat − noise)/4,
//
// in which beat and noise are running levels: each maximum moves the level of what
// it was taken for by 1/8 of the difference. After 1.66 times the mean of the last
// eight intervals without a beat the largest maximum since the last beat is taken
// if it exceeds half of the thresholds, and moves the level by 1/4 (search-back).
// Nothing within 200 ms of a beat is one (the refractory time of the ventricles),
// and what follows within 360 ms with less than half of its slope is a T wave.
//
// Ours: the paper has integer filters for 200 Hz with a delay, from 5 to 11 Hz; here
// the band is that which it calls desirable, as a Butterworth filter for any rate
// and without delay, and the means are centred. Its two seconds of learning are here
// a first pass over the whole recording, which begins at the height of a typical
// beat. In moving a level a maximum counts for no more than four times the energy and
// twice the height of it, so that an artefact does not hide the beats after it. The
// paper's halving of the thresholds where an interval lies outside 92 to 116 % of the
// mean is left out: breathing alone does that to the rhythm of the young.
const (
	panOrder        = 2
	panLow, panHigh = 5, 15 // Hz
	panSlopeStep    = 5 * time.Millisecond
	panMean         = 150 * time.Millisecond
	panRefractory   = 200 * time.Millisecond
	panTWave        = 360 * time.Millisecond
	panSlopeShare   = 0.5
	panThreshold    = 0.25
	panWeight       = 0.125
	panSearchBack   = 1.66
	panSearchShare  = 0.5
	panSearchWeight = 0.25
	panIntervals    = 8
	panMost         = 2 // in height
)

// candidate is a local maximum of the energy of the slope.
type candidate struct {
	at     int     // where |b| is largest, in samples
	energy float64 // e
	height float64 // the largest |b| near it
	slope  float64 // the largest |d| near it
}

// panTompkins returns marks of QRS complexes in x, ascending, at least 200 ms apart.
func panTompkins(x []float64, fs float64) []int {
	candidates, energy, band := panCandidates(x, fs)
	p := panDetector{
		candidates: candidates,
		refractory: samples(panRefractory, fs),
		tWave:      samples(panTWave, fs),
	}
	p.energy.beat, p.height.beat = typicalHeight(energy, fs), typicalHeight(band, fs)
	p.run(len(x)) // learns the levels
	p.run(len(x))
	return p.marks()
}

// panCandidates returns the candidates in x, with e and |b|.
func panCandidates(x []float64, fs float64) (candidates []candidate, energy, band []float64) {
	band = bandPass(x, panOrder, panLow, panHigh, fs)
	slope := panSlope(band, samples(panSlopeStep, fs))
	squares := make([]float64, len(slope))
	for i, v := range slope {
		squares[i] = v * v
		slope[i] = math.Abs(v)
	}
	for i, v := range band {
		band[i] = math.Abs(v)
	}
	half := samples(panMean/2, fs)
	energy = windowMean(squares, half)
	for _, at := range localMaxima(energy, samples(panRefractory/2, fs)) {
		top := largestMagnitude(band, at, half)
		candidates = append(candidates, candidate{
			at: top, energy: energy[at], height: band[top], slope: slope[largestMagnitude(slope, at, half)],
		})
	}
	return candidates, energy, band
}

// panSlope returns d of b, zero where it would need samples beyond the ends.
func panSlope(b []float64, k int) []float64 {
	d := make([]float64, len(b))
	for i := 2 * k; i < len(b)-2*k; i++ {
		d[i] = (-b[i-2*k] - 2*b[i-k] + 2*b[i+k] + b[i+2*k]) / 8
	}
	return d
}

// levels are the running heights of beats and of noise in one of the two waves.
type levels struct{ beat, noise float64 }

func (l *levels) threshold() float64 { return l.noise + panThreshold*(l.beat-l.noise) }

// panDetector decides which candidates are beats.
type panDetector struct {
	candidates        []candidate
	refractory, tWave int // samples
	energy, height    levels
	beats             []int // candidates taken as beats, ascending
}

// run decides on all candidates, in a recording of n samples, with the levels at
// which the run before ended.
func (p *panDetector) run(n int) {
	p.beats = p.beats[:0]
	for i := range p.candidates {
		p.searchBack(i, p.candidates[i].at)
		p.decide(i)
	}
	p.searchBack(len(p.candidates), n)
}

// decide takes candidate i for a beat or for noise, unless it belongs to the last beat.
func (p *panDetector) decide(i int) {
	c := &p.candidates[i]
	if len(p.beats) > 0 && c.at-p.candidates[p.beats[len(p.beats)-1]].at < p.refractory {
		return
	}
	if c.energy > p.energy.threshold() && c.height > p.height.threshold() && p.mayFollow(i) {
		p.take(i, panWeight)
		return
	}
	p.energy.noise += panWeight * (c.energy - p.energy.noise)
	p.height.noise += panWeight * (c.height - p.height.noise)
}

func (p *panDetector) take(i int, weight float64) {
	c := &p.candidates[i]
	p.energy.beat += weight * (min(c.energy, panMost*panMost*p.energy.beat) - p.energy.beat)
	p.height.beat += weight * (min(c.height, panMost*p.height.beat) - p.height.beat)
	p.beats = append(p.beats, i)
}

// mayFollow reports whether candidate i comes late enough after the last beat, and
// is not its T wave.
func (p *panDetector) mayFollow(i int) bool {
	if len(p.beats) == 0 {
		return true
	}
	last, c := &p.candidates[p.beats[len(p.beats)-1]], &p.candidates[i]
	after := c.at - last.at
	return after >= p.refractory && (after >= p.tWave || c.slope >= panSlopeShare*last.slope)
}

// searchBack looks for lost beats among the candidates before end, when the
// recording has come to sample at.
func (p *panDetector) searchBack(end, at int) {
	for {
		mean := p.meanInterval()
		if mean == 0 || float64(at-p.candidates[p.beats[len(p.beats)-1]].at) <= panSearchBack*mean {
			return
		}
		best := -1
		for i := p.beats[len(p.beats)-1] + 1; i < end; i++ {
			c := &p.candidates[i]
			if c.energy > panSearchShare*p.energy.threshold() && c.height > panSearchShare*p.height.threshold() && p.mayFollow(i) &&
				(best < 0 || c.energy > p.candidates[best].energy) {
				best = i
			}
		}
		if best < 0 {
			return
		}
		p.take(best, panSearchWeight)
	}
}

// meanInterval returns the mean of the last eight intervals between beats, in
// samples; 0 before there are two beats.
func (p *panDetector) meanInterval() float64 {
	n := min(panIntervals, len(p.beats)-1)
	if n < 1 {
		return 0
	}
	last := len(p.beats) - 1
	return float64(p.candidates[p.beats[last]].at-p.candidates[p.beats[last-n]].at) / float64(n)
}

func (p *panDetector) marks() []int {
	var marks []int
	for _, i := range p.beats {
		marks = append(marks, p.candidates[i].at)
	}
	return marks
}
