// Package simd does arithmetic on several float64 values at once: sums of
// products, filters, logarithms, exponentials, Fourier transforms and the
// recursion of hidden semi-Markov models, the inner loops in which the processing
// of a recording spends most of its time.
//
// # One result everywhere
//
// On amd64 processors with AVX2 and fused multiply-add the loops are written in
// assembly, four values to a register. Everywhere else they are plain Go. Both
// do the same operations in the same order on each value: a product that is
// added to a sum is rounded once, with it, as [math.FMA] does, and a sum that is
// kept in several parts is kept in the same parts. Results are therefore the same
// to the last bit, which the tests hold, and tables do not depend on the
// processor that made them.
//
// # Side by side
//
// Several functions work on sequences that lie side by side: element i of the
// sequence l, called a lane, of four is at index 4i + l. Four short stretches of
// signal are transformed in that form at the price of little more than one
// (FFT), and a long transform is made of four that lie side by side already,
// since its samples 4i + l are the lane l.
package simd

// Width is the number of lanes.
const Width = 4
