package network

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"phonocycle/pipeline/segment/option"
)

// Network is an architecture with its weights. Its JSON form holds the weights
// as the base64 of little-endian float32.
type Network struct {
	Architecture Architecture
	Weights      []float32 // each layer's kernel, tap by tap, then its bias
	layers       layers
}

// New returns a network with random weights: normal with variance 2/fan-in for
// layers followed by a rectifier (He, Zhang, Ren, Sun 2015, doi
// 10.1109/ICCV.2015.123), and smaller by the root of the number of blocks for
// the layers that add to the residual stream, so that the stream's variance
// does not grow with depth. Biases are zero. The options of the architecture must be accepted.
func New(a Architecture, seed uint64) *Network {
	n := &Network{Architecture: a, layers: a.lay()}
	n.Weights = make([]float32, n.layers.size)
	rng := stream(seed, streamInitial, 0, 0)
	fill := func(c convolution, gain float64) {
		sd := math.Sqrt(gain / float64(c.in*c.taps))
		kernel, _ := c.split(n.Weights)
		for i := range kernel {
			kernel[i] = float32(sd * rng.NormFloat64())
		}
	}
	fill(n.layers.entry, 1)
	for _, b := range n.layers.blocks {
		fill(b.widen, 2)
		fill(b.mix, 1/float64(len(a.Dilations)))
	}
	fill(n.layers.exit, 1)
	return n
}

// fromWeights returns the network with the given weights, which it keeps. It
// refuses a wrong number of weights, and weights that are not finite.
func fromWeights(a Architecture, weights []float32) (*Network, error) {
	if err := option.Check(a.options()); err != nil {
		return nil, fmt.Errorf("network: %w", err)
	}
	n := &Network{Architecture: a, Weights: weights, layers: a.lay()}
	if len(weights) != n.layers.size {
		return nil, fmt.Errorf("network: %d weights, but %d bands, %d channels and dilations %v need %d: the model was made for another network",
			len(weights), a.Bands, a.Channels, a.Dilations, n.layers.size)
	}
	if i := slices.IndexFunc(weights, notFinite); i >= 0 {
		return nil, fmt.Errorf("network: weight %d of %d is %v: the model is damaged or its training diverged; fit it anew", i+1, len(weights), weights[i])
	}
	return n, nil
}

func notFinite(v float32) bool { return math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) }

type networkJSON struct {
	Architecture Architecture `json:"architecture"`
	Weights      []byte       `json:"weights_float32"`
}

// MarshalJSON implements json.Marshaler.
func (n *Network) MarshalJSON() ([]byte, error) {
	return json.Marshal(networkJSON{n.Architecture, packFloats(n.Weights)})
}

// UnmarshalJSON implements json.Unmarshaler, with the refusals of fromWeights.
func (n *Network) UnmarshalJSON(data []byte) error {
	var j networkJSON
	if err := json.Unmarshal(data, &j); err != nil {
		return fmt.Errorf("network: %w", err)
	}
	weights, err := unpackFloats(j.Weights)
	if err != nil {
		return err
	}
	m, err := fromWeights(j.Architecture, weights)
	if err != nil {
		return err
	}
	*n = *m
	return nil
}

// packFloats writes x as little-endian float32, without loss.
func packFloats(x []float32) []byte {
	b, _ := binary.Append(nil, binary.LittleEndian, x) // fails for types without a size only
	return b
}

// unpackFloats is the inverse of packFloats.
func unpackFloats(b []byte) ([]float32, error) {
	if len(b)%4 != 0 {
		return nil, fmt.Errorf("network: %d bytes are no whole number of float32: the file is damaged", len(b))
	}
	x := make([]float32, len(b)/4)
	_, err := binary.Decode(b, binary.LittleEndian, x)
	return x, err
}
