// Package report draws what an evaluation found and writes it as pages that a
// person opens in a browser: the report of one or several runs ([Page]), and a
// page that explains one recording to students ([Lesson]).
//
// A page is one file. It holds its figures, sounds, style and script, asks the
// network for nothing (its Content-Security-Policy forbids it), follows the
// reader's choice of light or dark, prints, and can be used with a keyboard and
// with a screen reader.
//
// # Figures
//
// A [Figure] is drawn once and comes out as SVG in the page and as SVG, PNG and
// PDF for a paper. Colours are those of Okabe and Ito (2008, Color Universal
// Design: how to make figures and presentations that are friendly to colourblind
// people), which people with the common deficiencies of colour vision tell
// apart. No figure says by colour alone: lines differ in dash and mark, S1 and S2
// in height and numeral. Each figure carries a text with its numbers for those
// who do not see it.
//
// Three kinds of figure deserve a word.
//
// The score against tolerance is F1 over the half-width of the window in which
// a predicted sound counts as found. A curve that is still rising at the headline
// says that timing, and not finding, limits the score.
//
// An interval plot shows an estimate and its 95 % interval for each stratum. Two
// strata whose intervals overlap may still differ; what is seen at once is which
// strata are too small to say anything.
//
// An agreement plot shows, for a quantity measured twice in the same recording,
// the difference over the mean of both, with the mean difference d̄ and the limits
// d̄ ± 1.96 s between which 95 % of normal differences lie (Bland and Altman 1986,
// doi:10.1016/S0140-6736(86)90837-8). A correlation would hide a constant error;
// this shows it.
//
// # What the package knows
//
// Plain values: summaries and results of package eval, intervals of states,
// samples. It knows nothing of runs, folders or Parquet; package pipeline gathers
// what a page needs. The same values give the same bytes.
package report
