// Package simd holds vector kernels: the inner loops in which the processing of a
// recording spends most of its time. They are sums of products, filters,
// logarithms, exponentials, Fourier transforms and sorting, on float64 values, and
// sums of matrix products on float32 values.
//
// # The same bits everywhere
//
// On amd64 processors with AVX2 and fused multiply-add the kernels are assembly
// that works on four float64 or eight float32 values at a time. Elsewhere, and with
// the build tag purego, they are portable Go. Both do the same operations on each
// value in the same order: a product that is added to a sum is rounded once,
// together with the sum, as [math.FMA] does, and partial sums have the same terms.
// Products of float32, for which Go has no such function, are rounded by themselves.
// So results are equal to the last bit, which the tests check, and tables do not
// depend on the processor.
//
// The comment of a kernel gives its loop in Go. A kernel has assembly only if a
// whole run takes at least 1 % more processor time without it.
//
// # Interleaved sequences
//
// Several functions work on four interleaved sequences: element i of sequence l has
// the index 4i + l. In this form four short stretches of signal are transformed for
// little more than the cost of one (FFT). A long transform is made of four, since
// the samples 4i + l of a signal are the sequence l already.
package simd

// Width is the number of interleaved sequences and of values in a register.
const Width = 4
