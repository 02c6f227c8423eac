package audio

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/go-audio/riff"

	"phonocycle/pipeline/audio/wfdb"
)

// Decoder reads WAV files one after another into the same memory. Its zero
// value averages channels. A Decoder serves one goroutine.
//
// The decoder of go-audio/wav is not used. It takes float samples and codecs for
// integers without an error, counts the pad byte of a chunk as a sample, knows no
// frames, and takes seven times as long: see TestCasesOfGoAudio and
// BenchmarkGoAudio. Chunk headers are read by its riff package.
type Decoder struct {
	// Channel is the channel to take, counted from 1, or 0 for the mean of all.
	Channel int

	clip   Clip
	file   container
	format format
	data   chunk
	block  []byte
	signal *wfdb.Reader // of a WFDB record that was opened last
}

// blockBytes is the number of bytes read at once: enough that reading is cheap
// and that a frame, whose size is a 16-bit number, always fits; little enough
// that a block stays in the cache between reading and decoding.
const blockBytes = 1 << 16

// maxChunks bounds the chunks that are passed over in search of the samples. Real
// files have a few; a damaged file of a gigabyte could have a hundred million.
const maxChunks = 10_000

// DecodeFile reads the named file. See [Decoder.Decode].
func (d *Decoder) DecodeFile(path string) (*Clip, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	c, err := d.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return c, nil
}

// Decode reads a WAV file from the current position of r to its end. PCM of 8,
// 16, 24 and 32 bits and float of 32 and 64 bits are read, plain or under the
// extensible format tag, with any number of channels, at [MinRate] to
// [MaxRate]. The Clip is valid until the next call, except that its Repairs
// may be kept.
//
// Memory is taken for the bytes that r has, whatever its headers claim, and is
// used again by the next call: apart from a few bytes that the riff package
// takes for each chunk header, and text where there is something to tell, a
// Decoder that has seen its longest recording allocates nothing.
//
// Errors wrap one of this package's, or that of r.
func (d *Decoder) Decode(r io.ReadSeeker) (*Clip, error) {
	c, err := d.Open(r)
	if err == nil {
		err = d.ReadSamples()
	}
	if err != nil {
		return nil, err
	}
	return c, nil
}

// Open is the first half of Decode: it reads the headers and returns the Clip
// without its samples. [Decoder.ReadSamples] is the second.
func (d *Decoder) Open(r io.ReadSeeker) (*Clip, error) {
	if err := d.file.open(r); err != nil {
		return nil, err
	}
	f, data, err := d.locate()
	if err != nil {
		return nil, err
	}
	if d.Channel < 0 || d.Channel > f.channels {
		return nil, fmt.Errorf("%w: channel %d of %d: choose 1 to %d, or 0 for their mean", ErrChannel, d.Channel, f.channels, f.channels)
	}
	d.clip = Clip{
		Samples:       d.clip.Samples[:0],
		Rate:          f.rate,
		Channels:      f.channels,
		BitsPerSample: f.bits,
		Encoding:      f.encoding.name,
		Repairs:       f.repairs,
	}
	if d.clip.Frames, err = d.frames(&f, data); err != nil {
		return nil, err
	}
	d.format, d.data, d.signal = f, data, nil
	return &d.clip, nil
}

// ReadSamples reads the samples of the file that was opened last into the Clip
// that Open returned. More than [MaxFrames] are an error, before memory is taken.
func (d *Decoder) ReadSamples() error {
	defer func() { d.file.r, d.signal = nil, nil }() // so that d keeps no file alive
	frames := d.clip.Frames
	if frames > MaxFrames {
		return fmt.Errorf("%w: %d at %d Hz, and at most %d are held in memory: cut the recording, or resample it to 4 kHz",
			ErrTooLarge, frames, d.clip.Rate, MaxFrames)
	}
	if cap(d.clip.Samples) < frames {
		d.clip.Samples = make([]float64, frames)
	}
	d.clip.Samples = d.clip.Samples[:frames]
	if d.signal != nil {
		return d.readSignal()
	}
	return d.read(&d.format, d.data)
}

// locate finds the fmt and the data chunk, in this order or, with a repair, in
// the other. All other chunks are passed over.
func (d *Decoder) locate() (f format, data chunk, err error) {
	var haveFormat, haveData, dataFirst bool
	unpadded, chunks := 0, 0
	var firstUnpadded chunk
	for !haveFormat || !haveData {
		if chunks++; chunks > maxChunks {
			return f, data, fmt.Errorf("%w: %d chunks without both fmt and data: the file is damaged, fetch it again", ErrNoFormat, maxChunks)
		}
		ch, err := d.file.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return f, data, err
		}
		switch {
		case ch.id == riff.FmtID && !haveFormat:
			var b [fmtExtensible]byte
			n := min(ch.within(d.file.end), fmtExtensible)
			if _, err := io.ReadFull(&d.file, b[:n]); err != nil {
				return f, data, fmt.Errorf("reading the fmt chunk at byte %d: %w", ch.body-d.file.start, err)
			}
			if f, err = parseFormat(b[:n]); err != nil {
				return f, data, fmt.Errorf("fmt chunk at byte %d: %w", ch.body-d.file.start, err)
			}
			haveFormat, dataFirst = true, haveData
		case ch.id == riff.DataFormatID && !haveData:
			data, haveData = ch, true
			if haveFormat {
				continue
			}
		}
		missing, err := d.file.skip(ch)
		if err != nil {
			return f, data, err
		}
		if missing {
			if unpadded++; unpadded == 1 {
				firstUnpadded = ch
			}
		}
	}
	if dataFirst {
		f.repairs = append(f.repairs, "fmt chunk stands after the data chunk")
	}
	if unpadded > 0 {
		f.repairs = append(f.repairs, fmt.Sprintf("%d chunk(s) of odd size without a pad byte, the first %q at byte %d",
			unpadded, firstUnpadded.id[:], firstUnpadded.body-d.file.start))
	}
	switch {
	case !haveFormat:
		return f, data, fmt.Errorf("%w: without it the samples cannot be read: fetch the file again", ErrNoFormat)
	case !haveData:
		return f, data, fmt.Errorf("%w: no data chunk: fetch the file again", ErrNoSamples)
	}
	return f, data, nil
}

// frames returns how many whole frames of the data chunk are there, and notes
// what is missing or left over.
func (d *Decoder) frames(f *format, data chunk) (int, error) {
	have := data.within(d.file.end)
	if data.size == 0 {
		if rest := d.file.end - data.body; rest >= int64(f.frame) {
			return 0, fmt.Errorf("%w: data chunk of length 0 with %d bytes behind it: if its writer did not finish the header, write the file anew with a program that ignores the length", ErrNoSamples, rest)
		}
		return 0, fmt.Errorf("%w: data chunk of length 0: leave the recording out", ErrNoSamples)
	}
	frame := int64(f.frame)
	if have < frame {
		return 0, fmt.Errorf("%w: data chunk claims %d bytes, has %d, and a frame is %d: fetch the file again", ErrNoSamples, data.size, have, frame)
	}
	if have < data.size {
		d.note("data chunk claims %d bytes and has %d; read those", data.size, have)
	}
	if rest := have % frame; rest != 0 {
		d.note("data chunk ends inside a frame; left out its last %d bytes", rest)
	}
	return int(have / frame), nil
}

func (d *Decoder) note(text string, args ...any) {
	d.clip.Repairs = append(d.clip.Repairs, fmt.Sprintf(text, args...))
}

// read fills d.clip.Samples from the data chunk, block by block.
func (d *Decoder) read(f *format, data chunk) error {
	if err := d.file.seek(data.body); err != nil {
		return err
	}
	perBlock := blockBytes / f.frame
	if d.block == nil {
		d.block = make([]byte, blockBytes)
	}
	peak := 0.0
	x := d.clip.Samples
	for at := 0; at < len(x); {
		dst := x[at:min(at+perBlock, len(x))]
		src := d.block[:len(dst)*f.frame]
		if _, err := io.ReadFull(&d.file, src); err != nil {
			if errors.Is(err, io.EOF) {
				err = io.ErrUnexpectedEOF
			}
			return fmt.Errorf("reading samples at byte %d: %w", d.file.pos-d.file.start, err)
		}
		d.mix(dst, src, f)
		if f.encoding.float() {
			p, bad := magnitude(dst)
			if bad >= 0 {
				return d.notFinite(f, src[bad*f.frame:], at+bad)
			}
			peak = max(peak, p)
		}
		at += len(dst)
	}
	if peak > 1 {
		d.note("peak %.9g above full scale 1; kept as it is", peak)
	}
	return nil
}

// mix sets dst to the chosen channel of the frames in src or to the mean of
// all channels, summed in their order.
func (d *Decoder) mix(dst []float64, src []byte, f *format) {
	clear(dst)
	if d.Channel > 0 {
		f.encoding.add(dst, src[(d.Channel-1)*f.encoding.bytes:], f.frame)
		return
	}
	for c := range f.channels {
		f.encoding.add(dst, src[c*f.encoding.bytes:], f.frame)
	}
	if f.channels > 1 {
		n := float64(f.channels)
		for i := range dst {
			dst[i] /= n
		}
	}
}

// magnitude returns the largest magnitude in x, and the index of the first
// element that is not finite or −1.
func magnitude(x []float64) (peak float64, bad int) {
	for i, v := range x {
		if v-v != 0 { // NaN and the infinities alone
			return peak, i
		}
		peak = max(peak, math.Abs(v))
	}
	return peak, -1
}

// notFinite says which channel of the frame in src is to blame.
func (d *Decoder) notFinite(f *format, src []byte, frame int) error {
	const remedy = "cut the recording before it or export it again as PCM"
	for c := range f.channels {
		if d.Channel > 0 && c != d.Channel-1 {
			continue
		}
		var v [1]float64
		f.encoding.add(v[:], src[c*f.encoding.bytes:], f.frame)
		if v[0]-v[0] != 0 {
			return fmt.Errorf("%w: frame %d, channel %d: %v: %s", ErrNotFinite, frame, c+1, v[0], remedy)
		}
	}
	return fmt.Errorf("%w: frame %d: the mean of its channels overflows: %s", ErrNotFinite, frame, remedy)
}
