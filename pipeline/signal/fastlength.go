package signal

// FastLength returns the least length of the form 2^a·3^b·5^c that is at
// least n. Transforms of such lengths take O(n log n); a prime length takes
// O(n²).
func FastLength(n int) int {
	if n <= 1 {
		return 1
	}
	best := 1
	for best < n {
		best *= 2
	}
	for p5 := 1; p5 < best; p5 *= 5 {
		for p35 := p5; p35 < best; p35 *= 3 {
			m := p35
			for m < n {
				m *= 2
			}
			best = min(best, m)
		}
	}
	return best
}
