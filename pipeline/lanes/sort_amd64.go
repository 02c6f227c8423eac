package lanes

func exchange(x []float64, first, block, distance int) {
	if vector {
		exchangeAVX2(&x[0], len(x)/Width-distance, first, block, distance)
		return
	}
	exchangePortable(x, first, block, distance)
}

// exchangeAVX2 brings elements i below end and i + distance into order.
//
//go:noescape
func exchangeAVX2(x *float64, end, first, block, distance int)
