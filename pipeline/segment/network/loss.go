package network

import (
	"math"
	"slices"
)

// unlabelled marks a frame about which the annotator said nothing. It adds
// nothing to the loss.
const unlabelled = -1

// crossEntropy returns the sum over the labelled frames of −ln p[label], with p
// the softmax of the logits, one row per frame, and their number. Into grad it
// writes the gradient of that sum by the logits, p − 1{label}, zero where the frame
// is unlabelled. A grad without data is left alone.
func crossEntropy(logits Matrix, labels []int8, grad Matrix) (sums lossSums) {
	for t, label := range labels {
		if label == unlabelled {
			if grad.Data != nil {
				clear(grad.Row(t))
			}
			continue
		}
		z := logits.Row(t)
		norm := logSumExp(z)
		sums.loss += norm - float64(z[label])
		sums.frames++
		if grad.Data == nil {
			continue
		}
		g := grad.Row(t)
		for s, v := range z {
			g[s] = float32(math.Exp(float64(v) - norm))
		}
		g[label]--
	}
	return sums
}

// logSumExp returns ln Σ exp(x), shifted by the largest term against overflow.
func logSumExp(x []float32) float64 {
	largest := float64(slices.Max(x))
	var sum float64
	for _, v := range x {
		sum += math.Exp(float64(v) - largest)
	}
	return largest + math.Log(sum)
}
