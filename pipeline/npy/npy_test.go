package npy

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"testing"
)

type check struct {
	Descr, Header, SHA256 string
	Shape                 []int
}

// Arrays are written as NumPy writes them.
func TestArrays(t *testing.T) {
	content, err := os.ReadFile("../../testdata/npy/check.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Arrays []check }
	if err := json.Unmarshal(content, &file); err != nil || len(file.Arrays) == 0 {
		t.Fatal("no check values", err)
	}
	for _, want := range file.Arrays {
		switch want.Descr {
		case "<f8":
			checkArray(t, &want, func(i int) float64 { return float64(i)/7 - 1 })
		case "<f4":
			checkArray(t, &want, func(i int) float32 { return float32(float64(i)/7 - 1) })
		case "|u1":
			checkArray(t, &want, func(i int) uint8 { return uint8(i) })
		default:
			t.Errorf("no values of type %s", want.Descr)
		}
	}
}

func checkArray[V Value](t *testing.T, want *check, value func(int) V) {
	t.Helper()
	n := 1
	for _, size := range want.Shape {
		n *= size
	}
	x := make([]V, n)
	for i := range x {
		x[i] = value(i)
	}
	header := Header[V](want.Shape...)
	if got := hex.EncodeToString(header); got != want.Header {
		t.Errorf("%s of shape %v: header\n%s, want\n%s", want.Descr, want.Shape, got, want.Header)
	}
	b, w := bytes.NewBuffer(header), Writer{}
	for cut := n / 3; ; cut = len(x) { // as it comes, in several pieces
		if err := Write(b, &w, x[:cut]); err != nil {
			t.Fatal(err)
		}
		if x = x[cut:]; len(x) == 0 {
			break
		}
	}
	if sum := sha256.Sum256(b.Bytes()); hex.EncodeToString(sum[:]) != want.SHA256 {
		t.Errorf("%s of shape %v: other bytes than NumPy's", want.Descr, want.Shape)
	}
}

type full struct{ err error }

func (f full) Write([]byte) (int, error) { return 0, f.err }

// A full disk is an error.
func TestFullDisk(t *testing.T) {
	want := errors.New("no space left on device")
	if err := Write(full{want}, &Writer{}, []float64{1}); err != want {
		t.Errorf("error %v", err)
	}
}
