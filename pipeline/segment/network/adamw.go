package network

import "math"

// adamW is Adam with decoupled weight decay:
//
//	m ← β₁ m + (1−β₁) g        v ← β₂ v + (1−β₂) g²
//	w ← w − η ( m̂ / (√v̂ + ε) + λ w ),   m̂ = m/(1−β₁ᵏ), v̂ = v/(1−β₂ᵏ)
//
// for step k. Kingma & Ba 2015, arXiv 1412.6980; Loshchilov & Hutter 2019,
// arXiv 1711.05101 (from memory). β₁ = 0.9, β₂ = 0.999 and ε = 1e-8 are those of
// Kingma & Ba.
type adamW struct {
	Decay  float64   // λ
	First  []float32 // m
	Second []float32 // v
	Step   int       // k, the number of updates made
	decays []bool    // which weights decay: kernels, not biases
}

const (
	adamBeta1   = 0.9
	adamBeta2   = 0.999
	adamEpsilon = 1e-8
)

// newAdamW returns the optimiser at rest for the weights of n.
func newAdamW(n *Network, decay float64) *adamW {
	o := &adamW{Decay: decay, First: make([]float32, len(n.Weights)), Second: make([]float32, len(n.Weights)), decays: make([]bool, len(n.Weights))}
	for _, c := range n.layers.all() {
		for i := range c.size() - c.out {
			o.decays[c.offset+i] = true
		}
	}
	return o
}

// Update changes weights by one step of the given learning rate along grad.
func (o *adamW) Update(weights, grad []float32, rate float64) {
	o.Step++
	k := float64(o.Step)
	c1 := 1 / (1 - math.Pow(adamBeta1, k))
	c2 := 1 / (1 - math.Pow(adamBeta2, k))
	for i, g := range grad {
		m := adamBeta1*o.First[i] + (1-adamBeta1)*g
		v := adamBeta2*o.Second[i] + (1-adamBeta2)*g*g
		o.First[i], o.Second[i] = m, v
		step := float64(m) * c1 / (math.Sqrt(float64(v)*c2) + adamEpsilon)
		if o.decays[i] {
			step += o.Decay * float64(weights[i])
		}
		weights[i] -= float32(rate * step)
	}
}
