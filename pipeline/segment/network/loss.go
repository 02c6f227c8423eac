package network

import (
	"math"

	"gonum.org/v1/gonum/blas/blas32"
)

// unlabelled marks a frame about which the annotator said nothing. It adds
// nothing to the loss.
const unlabelled = -1

// crossEntropy returns the sum over the labelled frames of −ln p[label], with p
// the softmax of the logits, and their number. Into grad it writes the gradient
// of that sum by the logits, p − 1{label}, zero where the frame is unlabelled. A
// grad without data is left alone.
func crossEntropy(logits blas32.General, labels []int8, grad blas32.General) (sums lossSums) {
	for t, label := range labels {
		if label == unlabelled {
			if grad.Data != nil {
				for s := range logits.Rows {
					grad.Data[s*grad.Stride+t] = 0
				}
			}
			continue
		}
		norm := logSumExp(logits, t)
		sums.loss += norm - float64(logits.Data[int(label)*logits.Stride+t])
		sums.frames++
		if grad.Data == nil {
			continue
		}
		for s := range logits.Rows {
			p := float32(math.Exp(float64(logits.Data[s*logits.Stride+t]) - norm))
			if s == int(label) {
				p--
			}
			grad.Data[s*grad.Stride+t] = p
		}
	}
	return sums
}

// logSumExp returns ln Σ_s exp(x[s,t]), shifted by the largest term against
// overflow.
func logSumExp(x blas32.General, t int) float64 {
	largest := math.Inf(-1)
	for s := range x.Rows {
		largest = max(largest, float64(x.Data[s*x.Stride+t]))
	}
	var sum float64
	for s := range x.Rows {
		sum += math.Exp(float64(x.Data[s*x.Stride+t]) - largest)
	}
	return largest + math.Log(sum)
}

// LogPosteriors replaces the logits by the logarithms of their softmax, frame by
// frame.
func LogPosteriors(logits blas32.General) {
	for t := range logits.Cols {
		norm := float32(logSumExp(logits, t))
		for s := range logits.Rows {
			logits.Data[s*logits.Stride+t] -= norm
		}
	}
}
