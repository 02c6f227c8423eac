package audio

import (
	"bytes"
	"fmt"
	"testing"
	"time"
)

// clipSeconds is the length of audio in the benchmarks; each reports the time
// one second of it takes.
const clipSeconds = 10

func reportPerSecond(b *testing.B) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/clipSeconds, "ns/audio-s")
}

func BenchmarkDecode(b *testing.B) {
	for _, bb := range []struct {
		name     string
		code     uint16
		channels int
		rate     uint32
		bits     int
	}{
		{"8bit_4kHz", codePCM, 1, 4000, 8},
		{"16bit_4kHz", codePCM, 1, 4000, 16},
		{"24bit_44.1kHz_stereo", codePCM, 2, 44100, 24},
		{"float32_44.1kHz", codeFloat, 1, 44100, 32},
	} {
		b.Run(bb.name, func(b *testing.B) {
			data := make([]byte, clipSeconds*int(bb.rate)*bb.channels*bb.bits/8)
			file := wavFile(fmtChunk(bb.code, bb.channels, bb.rate, bb.bits), goodChunk("data", data))
			r := bytes.NewReader(file)
			var d Decoder
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				r.Reset(file)
				c, err := d.Decode(r)
				if err != nil {
					b.Fatal(err)
				}
				if c.Duration() != clipSeconds*time.Second {
					b.Fatal(c.Duration())
				}
			}
			reportPerSecond(b)
		})
	}
}

func BenchmarkResample(b *testing.B) {
	for _, from := range []int{500, 2000, 4000, 4001, 11025, 44100, 48000, 192000, 191999} {
		b.Run(fmt.Sprint(from), func(b *testing.B) {
			x := checkNoise(clipSeconds * from)
			r := NewResampler(analysisRate)
			y := r.Resample(nil, x, from)
			b.ReportAllocs()
			for b.Loop() {
				y = r.Resample(y, x, from)
			}
			reportPerSecond(b)
		})
	}
}

func BenchmarkNewPlan(b *testing.B) {
	for _, from := range []int{4000, 44100, 4001, 191999} {
		b.Run(fmt.Sprint(from), func(b *testing.B) {
			for b.Loop() {
				newPlan(from, analysisRate)
			}
		})
	}
}
