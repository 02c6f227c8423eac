// Package synth makes synthetic heart-sound recordings in which the position of
// each S1 and S2 is known to the sample. Methods can be tested on them without
// the uncertainty of annotations, and the demonstration uses them.
//
// They are simple hearts in simple noise. A method that fails on them has an
// error; one that succeeds still needs a test on real recordings.
//
// # The sounds
//
// A valve that closes sets blood and walls vibrating, and the vibration dies
// away. Each such component is a sum of damped oscillations (see [Component]):
// S1 is the mitral component M1 and, some 28 ms after it, the tricuspid T1; S2
// is the aortic component A2 and the pulmonary P2, which breathing moves from 8
// ms after A2 in expiration to 32 ms in inspiration. That the split is below 20
// ms in expiration and 20 to 40 ms in inspiration, S1 lasts 70 to 150 ms and S2
// 60 to 120 ms are common textbook values. Sums of decaying sinusoids have stood
// for the sounds of valves since Köymen, Altay, Ider 1987 (IEEE Trans Biomed Eng
// 34:853, from memory).
//
// # What the truth means
//
// A sound begins where the envelope of its components rises through 10 % of the
// peak ([EdgeLevel]) and ends where the last one falls through it, each sound
// measured against its own peak. That is 20 dB below the peak: the visible body
// of the sound. The centre is the middle between the two, which lies some 8 to 12 ms
// after the centroid of the energy, since a damped sound rises faster than it
// falls. The truth is that of the sounds before noise, murmurs and clipping, so
// a faint tail may well lie below the noise.
//
// [Recording].Truth runs from the first sample to the last. Where the recording
// cuts a state, the state is cut. A boundary lies on the first sample whose time
// is not before it.
//
// # The rhythm
//
// The time from S1 to S2 follows from the heart rate by published regressions
// ([SystoleLaw]):
//
//	systole = max(QS2 at rest, QS2 in exercise) − 70 ms
//
// with QS2 = 546 − 2.1·HR ms in men and 549 − 2.0·HR in women at rest (Weissler,
// Harris, Schoenfeld 1968, Circulation 37:149) and 480 − 1.4·HR in exercise
// (Sugiura 1987, Am J Cardiol 59:1089). The cycle varies with breathing and at
// random; systole varies much less and is not changed by the cycle it stands in.
// A beat can come early, with a pause after it that makes up for the time, or
// not at all, and is then part of a long diastole.
//
// # Murmurs and noise
//
// [Murmur] is band-limited noise shaped over systole or diastole. Noise of the
// room is added at a stated signal-to-noise ratio that holds exactly, clicks at
// recorded times. Then come polarity, gain and clipping. Files are written with
// 16 bit, where a sample is off by at most half a step, 2^−16 of full scale: a
// noise of its own about 101 dB below full scale.
//
// # Data sets
//
// A [Scenario] is a table of people and recordings in YAML, which
// [Scenario.Write] turns into a folder with audio, truth, labels and the layout
// that describes them. [Demo] is one such table; [Many] makes a large one for
// trials of scale. The label "condition" says what makes a recording hard for a
// method ([Clean], [Murmured], [Irregular], [Noisy], [Unusable]), so that clean
// recordings can be scored apart from the others.
//
//	name: trial                # of the layout file
//	title: Two people
//	rate: 4000                 # Hz
//	people:
//	  - id: a1
//	    age: 40                # years
//	    sex: female            # with age it chooses the regression of systole
//	    heart-rate: 70         # beats per minute
//	    murmurs:
//	      - {state: systole, shape: plateau, low: 150, high: 400, level: 0.1, loudest: mitral}
//	    recordings:
//	      - {site: mitral, duration: 15s, noise: pink, snr: 25}
//
// [Person], [HeardMurmur] and [Take] list all keys.
//
// # Seeds
//
// Random numbers come from PCG generators (O'Neill 2014, math/rand/v2), one for
// each purpose, seeded by the heart's seed and the purpose. Adding noise moves no
// beat, and no recording depends on the ones made before it. Equal seeds give
// equal bytes on machines of one architecture; between architectures the last
// bit of a sine may differ, which seldom survives the rounding to 16 bit.
package synth
