package network

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// reference is the network of the package comment in float64 and plain loops,
// written without the code under test, and accurate enough for differences.
type reference struct {
	a Architecture
	w []float64
}

// convolve reads the next layer's parameters off w and returns what is left.
func convolve(w []float64, x [][]float64, out, taps, dilation int) (y [][]float64, rest []float64) {
	in, frames := len(x), len(x[0])
	bias := w[out*in*taps : out*in*taps+out]
	for o := range out {
		row := make([]float64, frames)
		for t := range row {
			row[t] = bias[o]
			for j := range taps {
				if at := t + (j-taps/2)*dilation; at >= 0 && at < frames {
					for i := range in {
						row[t] += w[j*out*in+o*in+i] * x[i][at]
					}
				}
			}
		}
		y = append(y, row)
	}
	return y, w[out*(in*taps+1):]
}

func relu(x [][]float64) [][]float64 {
	y := make([][]float64, len(x))
	for i := range x {
		for _, v := range x[i] {
			y[i] = append(y[i], max(v, 0))
		}
	}
	return y
}

// logits is the whole network.
func (r reference) logits(x [][]float64) [][]float64 {
	h, w := convolve(r.w, x, r.a.Channels, 1, 1)
	for _, d := range r.a.Dilations {
		var u [][]float64
		u, w = convolve(w, h, r.a.Channels, r.a.Kernel, d)
		u, w = convolve(w, relu(u), r.a.Channels, 1, 1)
		for i := range h {
			for t := range h[i] {
				h[i][t] += u[i][t]
			}
		}
	}
	z, _ := convolve(w, relu(h), r.a.States, 1, 1)
	return z
}

// loss is the summed cross-entropy.
func (r reference) loss(x [][]float64, labels []int8) float64 {
	z := r.logits(x)
	var loss float64
	for t, l := range labels {
		if l == unlabelled {
			continue
		}
		var sum float64
		for s := range z {
			sum += math.Exp(z[s][t])
		}
		loss += math.Log(sum) - z[l][t]
	}
	return loss
}

// sample returns a small network with biases, an input and labels.
func sample() (n *Network, ref reference, x [][]float64, labels []int8) {
	a := Architecture{Bands: 5, Channels: 6, Kernel: 3, Dilations: []int{1, 2, 8}, States: 4}
	n = New(a, 7)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range n.Weights {
		n.Weights[i] += float32(0.1 * rng.NormFloat64())
		ref.w = append(ref.w, float64(n.Weights[i]))
	}
	ref.a = a
	const frames = 37
	x = make([][]float64, a.Bands)
	for b := range x {
		for range frames {
			x[b] = append(x[b], float64(float32(rng.NormFloat64())))
		}
	}
	for t := range frames {
		labels = append(labels, int8(t%5)-1) // every fifth unlabelled
	}
	return n, ref, x, labels
}

func fill(in Matrix, x [][]float64) {
	for b := range in.Rows {
		for t := range in.Row(b) {
			in.Row(b)[t] = float32(x[b][t])
		}
	}
}

// TestForward holds the network, in training and in use, to the reference.
func TestForward(t *testing.T) {
	n, ref, x, _ := sample()
	want := ref.logits(x)
	for _, training := range []bool{true, false} {
		p := newPass(n, newKernels(n, training))
		for range 2 { // buffers are reused
			fill(p.Input(len(x[0])), x)
			got := p.Forward()
			for s := range want {
				for k := range want[s] {
					if d := math.Abs(float64(got.Row(k)[s]) - want[s][k]); d > 1e-5 {
						t.Fatalf("training %v: logit of state %d at %d is off by %g", training, s, k, d)
					}
				}
			}
		}
	}
}

// TestSameBits: the logits and the gradient have these bits with and without
// assembly, and on every processor.
func TestSameBits(t *testing.T) {
	n := New(defaultArchitecture(), 1)
	rng := rand.New(rand.NewPCG(7, 8))
	draw := func(x []float32) {
		for i := range x {
			x[i] = rng.Float32() - 0.5
		}
	}
	draw(n.Weights)
	p := newPass(n, newKernels(n, true))
	in := p.Input(131)
	h := sha256.New()
	for b := range in.Rows {
		draw(in.Row(b))
	}
	logits := p.Forward()
	for k := range logits.Rows {
		h.Write(packFloats(logits.Row(k)))
		draw(p.dLogits.Row(k))
	}
	packed, grad := make([]float32, len(p.kernels.forward)), make([]float32, len(n.Weights))
	p.Backward(packed)
	n.layers.unpack(grad, packed)
	h.Write(packFloats(grad))
	if got, want := hex.EncodeToString(h.Sum(nil)), "20419856c4f6183d6f0d21102f4ebf6ae4fb27d74be8275fb981454d931c0fc4"; got != want {
		t.Errorf("digest %s, want %s", got, want)
	}
}

// TestBackward holds the gradient of every weight of every layer to the central
// difference of the reference's loss.
func TestBackward(t *testing.T) {
	n, ref, x, labels := sample()
	p := newPass(n, newKernels(n, true))
	fill(p.Input(len(labels)), x)
	sums := crossEntropy(p.Forward(), labels, p.dLogits.Matrix)
	if want := ref.loss(x, labels); math.Abs(sums.loss-want) > 1e-5*want {
		t.Errorf("loss %v, want %v", sums.loss, want)
	}
	if sums.frames != 29 {
		t.Errorf("%d labelled frames, want 29", sums.frames)
	}
	packed, grad := make([]float32, len(p.kernels.forward)), make([]float32, len(n.Weights))
	p.Backward(packed)
	n.layers.unpack(grad, packed)
	for l, c := range n.layers.all() {
		for i := c.offset; i < c.offset+c.size(); i++ {
			const h = 1e-5
			w := ref.w[i]
			ref.w[i] = w + h
			up := ref.loss(x, labels)
			ref.w[i] = w - h
			down := ref.loss(x, labels)
			ref.w[i] = w
			if want := (up - down) / (2 * h); math.Abs(float64(grad[i])-want) > 1e-4*(1+math.Abs(want)) {
				t.Errorf("layer %d, weight %d: gradient %v, difference %v", l, i-c.offset, grad[i], want)
			}
		}
	}
}

// TestField finds that an output depends on the frames within half of the field
// and on no others.
func TestField(t *testing.T) {
	a := Architecture{Bands: 2, Channels: 8, Kernel: 3, Dilations: []int{1, 2, 4}, States: 4}
	n := New(a, 1)
	p := NewPass(n)
	const frames, middle = 41, 20
	at := func(changed int) []float32 {
		in := p.Input(frames)
		clear(in.Data)
		if changed >= 0 {
			in.Data[changed] = 1
		}
		return slices.Clone(p.Forward().Row(middle))
	}
	none := at(-1)
	half := 0
	for _, d := range a.Dilations {
		half += (a.Kernel - 1) / 2 * d
	}
	for k := range frames {
		within := k >= middle-half && k <= middle+half
		if changed := !cmp.Equal(none, at(k)); changed != within {
			t.Errorf("output at %d changes with the input at %d: %v, field of ±%d", middle, k, changed, half)
		}
	}
}

// TestCrossEntropyGradient holds the gradient by the logits to differences.
func TestCrossEntropyGradient(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	var z, g Matrix
	z.resize(6, 4)
	g.resize(6, 4)
	for i := range z.Data {
		z.Data[i] = float32(2 * rng.NormFloat64())
	}
	labels := []int8{0, 1, 2, 3, unlabelled, 1}
	crossEntropy(z, labels, g)
	for k := range z.Rows {
		row := z.Row(k)
		for s, v := range row {
			const h = 1.0 / 256
			row[s] = v + h
			up := crossEntropy(z, labels, Matrix{}).loss
			row[s] = v - h
			down := crossEntropy(z, labels, Matrix{}).loss
			row[s] = v
			if got, want := float64(g.Row(k)[s]), (up-down)/(2*h); math.Abs(got-want) > 4e-4 {
				t.Errorf("state %d, frame %d: %v, want %v", s, k, got, want)
			}
		}
	}
}
