// Package report draws the results of an evaluation and writes them as HTML
// pages: the report of one or several runs ([Page]), and a page that explains one
// recording to students ([TeachingPage]).
//
// A page is one file with its figures, sounds, style and script. It loads nothing
// from the network (its Content-Security-Policy forbids it), follows the light or
// dark scheme of the reader, prints, and works with a keyboard and with a screen
// reader.
//
// # Recordings
//
// The report shows every recording. Those chosen for a reason are drawn here, with
// their sound. All others are data for the script of the page: their scores and
// labels, and an outline of at most 2 kB (the boundaries of the states, and the
// envelope in few bytes), from which the script draws them when a reader opens them.
// A map has a mark for each recording, by F1, whose classes differ in shape and in
// colour.
//
// # Figures
//
// Each figure is drawn once and written as SVG into the page and as SVG, PNG and
// PDF for a paper. The colours are those of Okabe and Ito (2008, Color Universal
// Design: how to make figures and presentations that are friendly to colourblind
// people), which people with common colour vision deficiencies can distinguish.
// No figure depends on colour alone: series also differ in dash and symbol, S1 and
// S2 in height and numeral. Each figure has a text description with its numbers.
//
// The tolerance figure shows F1 over the half-width of the window in which a
// predicted sound counts as detected. A curve that still rises at the headline
// tolerance is limited by timing errors and not by missed sounds.
//
// An interval figure shows an estimate and its 95 % interval for each stratum. Two
// strata whose intervals overlap may still differ. The figure shows which strata
// are too small for a conclusion.
//
// An agreement figure shows, for a quantity measured twice in the same recording,
// the difference over the mean of both, with the mean difference d̄ and the limits
// d̄ ± 1.96 s, which hold 95 % of normally distributed differences (Bland and Altman
// 1986, doi:10.1016/S0140-6736(86)90837-8). Unlike a correlation it shows a
// constant error.
//
// # Input
//
// The input is summaries and results of package eval, intervals and samples; the
// package knows nothing of runs, folders or Parquet. The same values give the same
// bytes.
package report
