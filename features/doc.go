// Package features measures a segmented heart-sound recording: how long its
// parts last, how loud they are, where their power lies in the spectrum, and
// how far the recording can be trusted.
//
// Everything it measures is a row of one catalogue ([Catalogue]), which holds
// the name, the unit, the definition as a formula, the source, the range, what
// a null means and how the value follows the gain. Columns of tables, their
// metadata and the printed dictionary ([WriteMarkdown], [WriteJSON], and its
// copy in DICTIONARY.md) are made from the rows. To add a feature is to add a row to one of the groups that
// catalogue.go joins; the tests then ask for a check value.
//
// # Cycles
//
// A cycle runs from the start of S1 to the start of the next S1 and holds four
// states: S1, systole, S2, diastole. Only whole cycles are measured: the states
// follow each other without a gap, another S1 comes after them, and the S1 does
// not begin with the recording, which may have cut it. Times are whole
// nanoseconds, so that the four durations add up to RR exactly.
//
// Each cycle has its features, and the recording has their mean, standard
// deviation (n − 1), median and interquartile range, with the suffixes _mean,
// _sd, _median and _iqr. Means and standard deviations of the ten classical
// measures are the twenty features of Liu et al. 2016, doi
// 10.1088/0967-3334/37/12/2181:
//
//	rr_interval_s                s1_duration_s            s2_duration_s
//	systole_duration_s           diastole_duration_s      systole_to_rr_percent
//	diastole_to_rr_percent       systole_to_diastole_percent
//	systole_to_s1_amplitude_percent                       diastole_to_s2_amplitude_percent
//
// # Signals
//
// Definitions are written in these symbols, which the printed dictionary defines
// to the last digit:
//
//	raw  the samples in the file, at its own rate, in parts of full scale (FS)
//	x    raw resampled to 1 kHz and otherwise unfiltered
//	y    x band-limited to 25 to 400 Hz, for amplitudes
//	z    x band-limited to 150 to 400 Hz, the band of murmurs
//	A    the Hilbert envelope of y
//	h    the mean of A over successive 20 ms, for rhythm
//	v    raw thinned out to 2 kHz or a little more, for 400 to 800 Hz
//	P    the periodogram of x over one state, at 25 ≤ f < 400 Hz
//	W    the Welch spectrum of x over the recording
//	d    the details of an undecimated wavelet transform of x
//
// The band from 25 to 400 Hz leaves out what moves the stethoscope and what
// files of 1 kHz do not have, so that one definition serves all data sets. Of a
// file of less than 1000 Hz all that is measured in this band is null: the
// resampler keeps 0.4 of its rate, and above it lies the floor of the filter.
// Shares of power are within it and add up to one. Only 400 to 800 Hz is
// measured on the file's own samples, and it is null where the file has fewer
// than 2000 a second. Clipping, too, is measured on raw: resampling rounds off
// what clipping has cut.
//
// # How much a spectrum can say
//
// A state is short. Two lines in a Hann-windowed stretch of T seconds are told
// apart from about 2/T hertz on: 20 Hz for an S1 of 100 ms. Spectra are given
// on a grid of 0.977 Hz so that bands and quantiles do not jump, but the grid
// is no resolution, and neither do narrower bands than these mean anything.
// Entropy and flatness fall with the length of the window: compare a state only
// with the same state.
//
// # Null
//
// A NaN is a null: the quantity does not exist or the state is too short or too
// quiet for it. Each row says when. A value is never invented: no ratio is made
// of the rounding that a filter leaves of a constant, and the standard
// deviation of one cycle is null and not zero.
//
// # Quality
//
// Clipping, flat lines, level, the loudness of sounds over pauses, the
// periodicity of the envelope and the rest are columns of the recording. No
// recording is left out for them here; that is for who uses the table.
//
// Features are measurements for research. They are no diagnosis.
package features
