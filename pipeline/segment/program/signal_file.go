package program

import (
	"errors"
	"os"

	"phonocycle/pipeline/npy"
)

// signalWriter writes signals as NumPy files. It owns a buffer.
type signalWriter struct{ npy.Writer }

// writeFile writes x to a new file in place of one of that name. A program that has
// mapped the old one into its memory keeps it.
func (w *signalWriter) writeFile(path string, x []float64) error {
	os.Remove(path)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	if _, err = f.Write(npy.Header[float64](len(x))); err == nil {
		err = npy.Write(f, &w.Writer, x)
	}
	return errors.Join(err, f.Close())
}
