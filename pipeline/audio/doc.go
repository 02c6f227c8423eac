// Package audio turns a recording on disk into samples a method can use: it
// reads WAV files into float64 samples at full scale 1 and brings them to the
// rate of the analysis.
//
// # Reading
//
// A WAV file is a RIFF container: twelve bytes of header, then chunks, each a
// four-letter name, a length and that many bytes, padded to an even number. A
// "fmt " chunk says how samples are encoded, a "data" chunk holds them, frame
// by frame, the channels of a frame side by side (IBM and Microsoft,
// Multimedia Programming Interface and Data Specifications 1.0, 1991; the
// extensible format: Microsoft, Multiple Channel Audio Data and WAVE Files,
// 2001). A sample becomes
//
//	x = v / 2^(b−1)          PCM of b = 16, 24 or 32 bits, v signed
//	x = (v − 128) / 128      PCM of 8 bits, v unsigned
//	x = v                    IEEE float of 32 or 64 bits
//
// so that full scale is 1 in every encoding and the largest positive PCM value
// is one step short of it. Channels are averaged, or one is chosen.
//
// A signal of a WFDB record (package wfdb) is audio too. With d the stored value,
// zero the middle of the converter's range, and b its resolution in bits if the
// header states one, else the bits of the format, a sample becomes
//
//	x = (d − zero) / 2^(b−1)
//
// A place in it without a sample is an error, as a number that is not finite is.
//
// Everything a header says is a claim. Lengths are held against the bytes that
// are there, memory is taken for those alone, and where the two differ the
// samples that are there are used and the difference is noted in
// [Clip.Repairs]. What cannot be read without guessing is an error that names
// the place and the remedy.
//
// # Resampling
//
// Heart sounds lie below 400 Hz, and methods run at 1 kHz. [Resampler] is a
// band-limited interpolator: with from the rate of the source, to the rate
// wanted, both in hertz, output sample k stands for the time k/to, and is
//
//	y[k] = Σ_n x[n] h(k·from/to − n)
//	h(t) = 2c sinc(2ct) w(t/T),  w(u) = I₀(β√(1−u²)) / I₀(β) for |u| < 1, else 0
//
// where t and T count input samples, sinc(z) = sin(πz)/(πz), c is the cut-off
// in cycles an input sample, and w is the window of Kaiser (1974). Samples
// before the first and after the last are taken as zero. The kernel is even,
// so that no frequency is delayed, by any part of a sample: a click stays at
// its time. With f the lower of the two rates, c·from = 0.45 f is the middle
// of a transition band from 0.4 f to 0.5 f, and β and T follow from 100 dB of
// attenuation by Kaiser's formulas:
//
//	β = 0.1102 (A − 8.7)
//	2T = (A − 7.95) / (2.285 · 2π · 0.1 f/from)
//
// At 1 kHz this keeps everything to 400 Hz (to 0.4 of the source's rate where
// that is below 1 kHz) within 0.001 dB, and what lies above 500 Hz folds back
// attenuated by 98 dB or more, which is the size of the rounding in 16-bit
// audio. The tests hold the filter to 0.05 dB and 80 dB at fifteen rates, and
// print what it has.
//
// Since from/to is a fraction M/L in lowest terms, only L different sets of
// values of h occur, and only the outputs that are wanted are computed: this
// is the polyphase structure of Crochiere and Rabiner (1981). Where L is
// large, as it is for a prime rate, a table of h with about 4096 f rows a
// second is kept instead and rows are interpolated linearly, which costs an
// error below −140 dB (Smith and Gossett 1984). Either way a table holds about
// 64.1 × 4096 values and two rows at most, 2.3 MB, whatever the rate.
//
// # Sources
//
// All four from memory:
//
//   - Kaiser J. F. Nonrecursive digital filter design using the I₀-sinh window
//     function. Proc. IEEE Int. Symp. Circuits and Systems 1974, 20–23.
//   - Kaiser J. F., Schafer R. W. On the use of the I₀-sinh window for spectrum
//     analysis. IEEE Trans. Acoust. Speech Signal Process. 1980;28:105–107.
//     doi 10.1109/TASSP.1980.1163349.
//   - Crochiere R. E., Rabiner L. R. Interpolation and decimation of digital
//     signals: a tutorial review. Proc. IEEE 1981;69:300–331.
//     doi 10.1109/PROC.1981.11969.
//   - Smith J. O., Gossett P. A flexible sampling-rate conversion method. Proc.
//     IEEE ICASSP 1984, 112–115. doi 10.1109/ICASSP.1984.1172555.
package audio
