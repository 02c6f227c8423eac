//go:build !purego

package hsmm

import "golang.org/x/sys/cpu"

// vector says whether the processor can run the assembly. The tests turn it off
// to compare.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

// forwardStepAVX2 does at least one frame.
//
//go:noescape
func forwardStepAVX2(states *[4]forwardState, frames int)

// viterbiStepAVX2 does at least frame 1.
//
//go:noescape
func viterbiStepAVX2(v *viterbiTables, frames int)
