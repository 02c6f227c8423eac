package signal

import "math"

// mel returns the pitch in mel of a tone of f hertz,
//
//	m(f) = 2595 · log₁₀(1 + f/700).
//
// Formula: O'Shaughnessy, Speech Communication: Human and Machine, 1987 (from
// memory); the scale itself is that of Stevens, Volkmann and Newman 1937,
// doi 10.1121/1.1915893. Below 500 Hz, where heart sounds lie, it is nearly
// linear: bands grow from 15 Hz apart to 25 Hz apart, no more.
func mel(f float64) float64 { return 2595 * math.Log10(1+f/700) }

// melToHertz is the inverse of mel.
func melToHertz(m float64) float64 { return 700 * (math.Pow(10, m/2595) - 1) }

// melEdges returns bands + 2 frequencies in hertz, equally spaced in mel from low to
// high, of which each three neighbours are foot, peak and foot of a triangle.
func melEdges(low, high float64, bands int) []float64 {
	from, to := mel(low), mel(high)
	edges := make([]float64, bands+2)
	for i := range edges {
		edges[i] = melToHertz(from + (to-from)*float64(i)/float64(bands+1))
	}
	return edges
}

// triangle is one band: weights, summing to one, of the bins from first on.
type triangle struct {
	first   int
	weights []float64
}

// melBands samples the triangles that the edges make up at multiples of step
// hertz. A triangle narrower than step may hold no bin.
func melBands(edges []float64, step float64) []triangle {
	bands := make([]triangle, len(edges)-2)
	for b := range bands {
		left, peak, right := edges[b], edges[b+1], edges[b+2]
		t := triangle{first: int(left/step) + 1}
		var sum float64
		for k := t.first; float64(k)*step < right; k++ {
			f := float64(k) * step
			w := (f - left) / (peak - left)
			if f > peak {
				w = (right - f) / (right - peak)
			}
			t.weights = append(t.weights, w)
			sum += w
		}
		for i := range t.weights {
			t.weights[i] /= sum
		}
		bands[b] = t
	}
	return bands
}
