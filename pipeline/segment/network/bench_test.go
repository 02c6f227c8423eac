package network

import (
	"context"
	"math/rand/v2"
	"testing"
)

// flops returns the floating-point operations of one frame's forward run.
func (l layers) flops() float64 {
	var n float64
	for _, c := range l.all() {
		n += 2 * float64(c.in*c.out*c.taps)
	}
	return n
}

// BenchmarkForward runs the network over 20 s, on one core. x-realtime is seconds
// of recording a second.
func BenchmarkForward(b *testing.B) {
	const frames = 20 * FrameRate
	n := New(defaultArchitecture(), 1)
	p := NewPass(n)
	rng := rand.New(rand.NewPCG(1, 2))
	in := p.Input(frames)
	for i := range in.Data {
		in.Data[i] = float32(rng.NormFloat64())
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Forward()
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
	b.ReportMetric(frames*n.layers.flops()*float64(b.N)/b.Elapsed().Seconds()/1e9, "GFlop/s")
}

// BenchmarkFrontEnd measures the input of the network, 20 s of recording.
func BenchmarkFrontEnd(b *testing.B) {
	f, err := NewFrontEnd(defaultFrontEnd())
	if err != nil {
		b.Fatal(err)
	}
	p := NewPass(New(defaultArchitecture(), 1))
	x := beat(20000)
	b.ReportAllocs()
	for b.Loop() {
		f.Measure(p, x)
	}
	b.ReportMetric(20*float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
}

// BenchmarkTraining learns from windows of 10 s with the default network, on one
// core, forward and backward; frames/s counts annotated ones.
func BenchmarkTraining(b *testing.B) {
	f, err := NewFrontEnd(defaultFrontEnd())
	if err != nil {
		b.Fatal(err)
	}
	es, _ := lesson(b, 4)
	for i := range es {
		es[i].Input = f.Fine(beat(6000))
	}
	o := DefaultOptions()
	o.Epochs = 1
	frames := 0
	for b.Loop() {
		t, err := NewTrainer(es, o)
		if err != nil {
			b.Fatal(err)
		}
		if err := t.Run(context.Background(), 1, nil); err != nil {
			b.Fatal(err)
		}
		for i := range t.slots {
			frames += t.slots[i].sums.frames
		}
	}
	b.ReportMetric(float64(frames)/b.Elapsed().Seconds(), "frames/s")
}
