//go:build !amd64 || purego

package hsmm

const vector = false

func forwardStepAVX2(states *[4]forwardState, frames int) { panic("hsmm: no assembly") }

func viterbiStepAVX2(v *viterbiTables, frames int) { panic("hsmm: no assembly") }
