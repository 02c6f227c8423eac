// Package eval scores a segmentation of heart sounds against a reference
// annotation, and says how far the score can be trusted.
//
// # What is counted
//
// An event is one S1 or one S2. It stands in time at its anchor: its centre,
// its onset or its offset. A predicted event is right when it can be paired
// with a reference event of its class no further than the tolerance τ away:
//
//	|predicted − reference| ≤ τ
//
// in integer nanoseconds, so that an event exactly at the edge is in, on every
// machine. Pairs are one-to-one within a class: as many as possible, and of
// all ways to form that many the one with the least total distance. With
//
//	TP  reference events that are paired
//	FN  reference events that are not
//	FP  predicted events that are not
//
// follow
//
//	recall     TP/(TP+FN), also called sensitivity, Se
//	precision  TP/(TP+FP), the positive predictive value, PPV
//	F1         2TP/(2TP+FP+FN), the harmonic mean of the two
//
// A ratio with a zero denominator is null, neither 0 nor 1. There are no true
// negatives among events, hence no specificity and no accuracy; accuracy is
// given over time instead, as the share of annotated time in which the
// predicted state is the annotated one, with its 4×4 confusion.
//
// # What is not counted
//
// References of heart sounds are partial. Scored time is the union of the
// annotated states, with gaps of up to 30 ms between rows closed; a predicted
// event outside it may be paired but is never a false positive. Where a
// reference gives only points, scored time runs from the first to the last,
// widened by τ. A reference event cut by the start or the end of the recording
// has no known centre: it may absorb a pair, which counts on neither side, and
// is not missed when it finds none. A recording for which a method gives no
// output has missed all its reference events.
//
// # Three averages
//
// Scores are pooled over events, averaged over recordings and averaged over
// people. In the first two the people with most annotated beats have the most
// weight; beat-by-beat testing of electrocardiographs, from which this
// practice comes, asks for both a gross and an average figure (ANSI/AAMI EC57, 2012).
// Micro and macro averages can order two methods differently (Mesaros,
// Heittola, Virtanen 2016, doi:10.3390/app6060162), so all three are printed.
//
// # Uncertainty
//
// Beats of one person resemble each other, so an interval that treats each beat
// as an independent trial is too narrow. Intervals come from a bootstrap that
// draws people with replacement, with all their recordings (Efron and
// Tibshirani 1993, An Introduction to the Bootstrap, chapters 13 and 14;
// Field and Welsh 2007, doi:10.1111/j.1467-9868.2007.00593.x, for clusters), and
// are widened for few people (Hesterberg 2015, doi:10.1080/00031305.2015.1089789).
// TestCoverage says how often they hold the truth. The interval of Wilson (1927, doi:10.1080/01621459.1927.10502953) is
// given too, for comparison with papers that give a binomial one, and says
// that it ignores clusters.
//
// # Comparing methods
//
// [Compare] takes runs on the same recordings and by the same rules. Both of a
// pair are computed from the same people drawn, so that how hard a person is
// cancels. A difference counts as supported where its interval and Wilcoxon's
// signed-rank test over people, adjusted after Holm for the number of pairs,
// agree. [Folds] and [CheckDisjoint] keep people on one side of a split.
//
// # Summary and statistics
//
// [Accumulator] sums up results into a [Summary]. Each of its [Statistics] says how
// it is accumulated and printed in the file of its type. [Grouping] is the one
// language in which flags name what recordings are grouped by.
//
// # Identifiability
//
// [Identify] says how well data sets can be told apart by their features.
//
// # References can be wrong
//
// [Auditor] lists references that deserve a second look, with the evidence.
//
// # Exchanged sounds
//
// A segmentation with S1 and S2 exchanged has perfect times and wrong states. This
// is counted on its own: events paired regardless of class minus
// events paired within their class. A recording is flagged as exchanged when
// its score is better after swapping the labels.
//
// The package knows intervals and people. It knows nothing of audio, of
// methods or of files: [Match] and [Count] are plain rows that a caller may
// write down.
package eval
