// Package hsmm decodes a hidden semi-Markov model of the heart cycle: four
// states that follow each other in the fixed order of [pcg.Cycle], each lasting
// for a random number of frames, its sojourn.
//
// # Model
//
// A path q is a sequence of runs, each of the state that follows the one
// before. With log-likelihoods ℓ(t, j) of the frames and distributions p_j of
// the sojourns, the score of a path is
//
//	log P(q) = first + Σ log p_j(d) [runs between] + last + Σ_t ℓ(t, q(t)).
//
// A recording starts and ends somewhere in a cycle, so the first run may have
// begun before it and the last may go on after it. In a heart that has been
// beating for long, the probability of meeting state j with k frames still to
// come is P(D_j ≥ k)/μ, where μ is the expected cycle length (the equilibrium of
// the renewal process); a last run of k frames has the probability P(D_j ≥ k) to
// have lasted so long. A recording within a single sojourn has
// E[(D_j − T + 1)⁺]/μ. These are the sums over all unseen beginnings and ends,
// so the probabilities of all paths of T frames add up to one for any
// distributions: scores under different distributions can be compared.
//
// Letting the states at the edges reach beyond the recording follows Springer,
// Tarassenko and Clifford 2016 (doi 10.1109/TBME.2015.2475278), who take the
// best unseen length instead of the sum; treating the last sojourn as censored
// follows Guédon 2003 (J Comput Graph Stat 12:604,
// doi 10.1198/1061860032030).
//
// # Algorithms
//
// [Decoder.Decode] finds the most probable path by explicit-duration Viterbi
// decoding, [Decoder.Likelihoods] sums over all paths by the forward recursion
// (both: Rabiner 1989, Proc IEEE 77:257, doi 10.1109/5.18626). The inner loops,
// viterbiStep and forwardStep, exist in assembly for amd64 and in Go, with the
// same bits; the build tag purego leaves the assembly out.
package hsmm
