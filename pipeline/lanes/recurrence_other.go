//go:build !amd64

package lanes

func (c *Recurrence) count(x []float64, r float64) (two, three int) { return recurPortable(x, r) }
