//go:build !purego

package simd

import "golang.org/x/sys/cpu"

// vector reports whether the processor can run the assembly. The tests set it to
// false to compare.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA
