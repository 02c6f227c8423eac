package degrade

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/printable"
	"phonocycle/pipeline/synth/noise"
)

// recordedNoise is the noise in the WAV files of a folder. Once it is open it is only
// read, by any number of goroutines.
type recordedNoise struct {
	folder string
	digest string // of the files, in the order of their names; empty before open
	clips  []audio.Clip
}

// maxNoiseSamples bounds the samples of all files, which are held in memory: 512 MiB.
const maxNoiseSamples = audio.MaxFrames

// digestDigits is the number of digits of the digest in the name.
const digestDigits = 12

// name is that of the noise in the text of a condition.
func (r *recordedNoise) name() string {
	if r.digest == "" {
		return r.folder
	}
	return filepath.Base(r.folder) + "@" + r.digest[:digestDigits]
}

// open reads the files, of which several channels are averaged.
func (r *recordedNoise) open() error {
	if r.digest != "" {
		return nil
	}
	entries, err := os.ReadDir(r.folder)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("noise: there is no colour and no folder %q: write %s, or a folder of WAV files", r.folder, colourNames())
	}
	if err != nil {
		return fmt.Errorf("noise: %w: give a folder of WAV files that can be read", err)
	}
	all := sha256.New()
	total := 0
	for _, e := range entries { // sorted by name
		if !strings.EqualFold(filepath.Ext(e.Name()), ".wav") || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		clip, err := readNoise(filepath.Join(r.folder, e.Name()), all)
		if err != nil {
			return fmt.Errorf("noise: %w", err)
		}
		if total += len(clip.Samples); total > maxNoiseSamples {
			return fmt.Errorf("noise: the files of %s hold more than %d samples: take fewer, or resample them to 4 kHz", r.folder, maxNoiseSamples)
		}
		r.clips = append(r.clips, *clip)
	}
	if len(r.clips) == 0 {
		return fmt.Errorf("noise: there is no WAV file in %s: give a folder that has some", r.folder)
	}
	r.digest = fmt.Sprintf("%x", all.Sum(nil))
	return nil
}

// readNoise reads a file, and writes its digest to all.
func readNoise(path string, all io.Writer) (*audio.Clip, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	digest := sha256.New()
	if _, err := io.Copy(digest, f); err != nil {
		return nil, err
	}
	fmt.Fprintf(all, "%x\n", digest.Sum(nil))
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	clip, err := new(audio.Decoder).Decode(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", printable.Name(path), err)
	}
	return clip, nil
}

// section returns n samples at rate hertz of a file that rng draws, from a place that it
// draws. One second more is read on each side, which the resampling needs.
func (r *recordedNoise) section(w *workspace, n, rate int, rng *rand.Rand) []float64 {
	clip := &r.clips[rng.IntN(len(r.clips))]
	from, own := rng.IntN(len(clip.Samples)), clip.Rate
	length := (n*own+rate-1)/rate + 1
	margin := own
	if own == rate {
		length, margin = n, 0
	}
	w.section = resize(w.section, length+2*margin)
	start := (from - margin) % len(clip.Samples)
	if start < 0 {
		start += len(clip.Samples)
	}
	for at := 0; at < len(w.section); {
		at += copy(w.section[at:], clip.Samples[start:])
		start = 0
	}
	if own == rate {
		return w.section
	}
	return w.resample(&w.resampled[1], w.section, own, rate)[rate:][:n]
}

// colourNames names the colours in messages.
func colourNames() string {
	var names []string
	for _, c := range noise.Colours() {
		names = append(names, string(c))
	}
	return strings.Join(names, ", ")
}
