// Package synth makes recordings of hearts that do not exist.
package synth
