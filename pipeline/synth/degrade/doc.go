// Package degrade changes recordings as poor recording conditions do: noise, a low
// sampling rate, few bits, clipping, a narrow band, gaps. With it a method is judged,
// and fitted, under conditions that can be stated and repeated.
//
// # Conditions
//
// A [Condition] is a list of changes, made in the order in which they are written:
//
//	noise=pink,snr=5                 noise at 5 dB: white, pink, brown, or a folder of WAV files
//	rate=500                         another sampling rate, in hertz
//	bits=8                           quantisation to so many bits
//	clip=0.01                        clipping of this share of the samples
//	low-cut=40                       frequencies below 40 Hz removed
//	high-cut=150                     frequencies above 150 Hz removed
//	gaps=0.05,gap-length=200ms       stretches of zeros, of this total share and length
//
// so that low-cut=40,noise=pink,snr=10 filters the recording and not the noise. In the
// formulas x is a recording of n samples at rate fs in hertz, with full scale 1.
//
// Noise is added at a signal-to-noise ratio in decibels in the band of 25 to 400 Hz,
// which methods hear. With B the band-pass of [signal.Waveform], a Butterworth filter
// of order 2 run forwards and backwards,
//
//	y = x + g·v,  g² = P/N · 10^(−snr/10)
//	P = median over windows of one second of mean (B x)²
//	N = mean (B v)²
//
// The recording as it is, with the noise that it has, is the signal. The median keeps a
// loud artefact from setting the level. The windows follow each other from the first
// sample; what is left at the end counts only in a recording of less than a second.
// Where fs is 800 Hz or less, the band ends at fs/2: B is then a high-pass at 25 Hz.
// The ratio holds for the noise that was drawn, not for its expectation. A recording
// whose median power is zero stays as it is.
//
// White noise has equal power in each hertz, pink noise falls by 10 dB a decade and
// brown noise by 20, both from 10 Hz on (package noise). Recorded noise is a section of
// one of the files, both drawn at random, brought to fs; it goes on with the start of
// the file where that is too short.
//
// Rate: the windowed sinc of package audio. A recording that has the rate stays as it is.
//
// Bits, b of them: y = min(round(x·2^(b−1)), 2^(b−1) − 1) / 2^(b−1), halves away from
// zero, and at least −1: what lies beyond full scale is set to it, as a converter does.
//
// Clip, a share s: with k = round(s·n) and c the k-th largest |x|, y = max(−c, min(c, x)).
//
// Low cut and high cut, at f: Butterworth filters of order 2 run forwards and backwards,
// so that no sound moves: with u = tan(π·frequency/fs) and h = tan(πf/fs) the gain is
// 1/(1 + (h/u)⁴) and 1/(1 + (u/h)⁴), one half at f. A low cut at fs/2 or above leaves
// silence, a high cut nothing to cut.
//
// Gaps, a share s of length L: round(s·n) samples become zero, in gaps of round(L·fs)
// samples and one that is shorter for the rest. They lie without overlap, each behind so
// many of the samples that stay as a random number says; two may touch.
//
// # What is stored
//
// The samples of a changed recording are rounded to what a WAV file holds, see
// [audio.Round]: a copy on disk and a recording that is changed as it is read have
// exactly the same samples.
//
// # Random numbers
//
// They follow from the seed, the name of the recording, the kind of change, how many of
// this kind the condition has before it, and how many conditions the audio has gone
// through before. So a recording gets the same noise in any company and at any level,
// and a second noise is another one.
//
// # Sources
//
// Butterworth S. On the theory of filter amplifiers. Experimental Wireless 1930;7:536.
// Noise by shaping the spectrum: Timmer J., König M. On generating power law noise.
// Astron. Astrophys. 1995;300:707 (from memory); here the amplitudes are those of
// transformed white noise. The other changes are their formulas.
package degrade
