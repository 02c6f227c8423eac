package lanes

func oscillate(o *oscillation, x []float64, n int) {
	if vector && n > 0 {
		oscillateAVX2(o, &x[0], n)
		return
	}
	oscillatePortable(o, x, n)
}

//go:noescape
func oscillateAVX2(o *oscillation, x *float64, n int)
