//go:build !amd64

package lanes

func exchange(x []float64, first, block, distance int) { exchangePortable(x, first, block, distance) }
