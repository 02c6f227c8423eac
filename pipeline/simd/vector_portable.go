//go:build !amd64 || purego

package simd

// vector says that there is no assembly.
const vector = false
