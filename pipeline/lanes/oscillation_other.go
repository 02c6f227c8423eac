//go:build !amd64

package lanes

func oscillate(o *oscillation, x []float64, n int) { oscillatePortable(o, x, n) }
