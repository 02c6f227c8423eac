package audio

import (
	"bytes"
	"encoding/binary"
	"fmt"
)

// Format codes of the fmt chunk (RFC 2361, Fleischman 1998, doi
// 10.17487/RFC2361).
const (
	codePCM        = 0x0001
	codeFloat      = 0x0003
	codeExtensible = 0xFFFE
)

// codecs names what else is met in WAV files, so that an error can say what
// the file holds (RFC 2361).
var codecs = map[uint16]string{
	0x0002: "Microsoft ADPCM",
	0x0006: "A-law",
	0x0007: "µ-law",
	0x0011: "IMA ADPCM",
	0x0031: "GSM 6.10",
	0x0040: "G.721 ADPCM",
	0x0050: "MPEG audio",
	0x0055: "MP3",
	0x0161: "Windows Media Audio",
	0xF1AC: "FLAC",
}

// Sizes of the fmt chunk: the fields that every file has, and those that the
// extensible format adds.
const (
	fmtBasic      = 16
	fmtExtensible = 40
)

// subFormatTail is what follows the format code in the sub-format GUID of an
// extensible fmt chunk, unless the GUID was made for another purpose.
var subFormatTail = []byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

// format is the content of a fmt chunk.
type format struct {
	encoding encoding
	rate     int
	channels int
	bits     int // significant bits of a sample
	frame    int // bytes a frame
	repairs  []string
}

// parseFormat reads the body of a fmt chunk, of which the first fmtExtensible
// bytes are enough.
//
// The riff package has a reader for it too (Chunk.DecodeWavHeader), which is
// not used because it allocates as many bytes as the chunk claims to have and
// skips over the fields of the extensible format.
func parseFormat(b []byte) (format, error) {
	if len(b) < fmtBasic {
		return format{}, fmt.Errorf("%w: %d bytes where %d are needed: the file is damaged, fetch it again", ErrFormat, len(b), fmtBasic)
	}
	le := binary.LittleEndian
	code := le.Uint16(b)
	f := format{
		channels: int(le.Uint16(b[2:])),
		bits:     int(le.Uint16(b[14:])),
		frame:    int(le.Uint16(b[12:])),
	}
	rate := le.Uint32(b[4:])
	container := f.bits
	if code == codeExtensible {
		if len(b) < fmtExtensible {
			return format{}, fmt.Errorf("%w: %d bytes where the extensible format has %d: write the file anew as plain PCM", ErrFormat, len(b), fmtExtensible)
		}
		guid := b[24:40]
		if !bytes.Equal(guid[2:], subFormatTail) {
			return format{}, fmt.Errorf("%w: sub-format %x: convert the file to PCM", ErrEncoding, guid)
		}
		code = le.Uint16(guid)
		if valid := int(le.Uint16(b[18:])); valid > 0 && valid < container {
			f.bits = valid
		}
	}
	if f.channels == 0 {
		return format{}, fmt.Errorf("%w: no channels: the file is damaged, fetch it again", ErrFormat)
	}
	if rate < MinRate || rate > MaxRate {
		return format{}, fmt.Errorf("%w: %d Hz, want %d to %d Hz: check the rate in the header or resample the file", ErrRate, rate, MinRate, MaxRate)
	}
	f.rate = int(rate)

	var err error
	if f.encoding, err = encodingOf(code, container); err != nil {
		return format{}, err
	}
	want := f.channels * f.encoding.bytes
	if f.frame == 0 {
		f.repairs = append(f.repairs, fmt.Sprintf("fmt chunk gives no frame size; took the %d bytes of %d × %s", want, f.channels, f.encoding.name))
		f.frame = want
	}
	if f.frame != want {
		return format{}, fmt.Errorf("%w: frames of %d bytes, but %d × %s is %d: write the file anew from its source", ErrFormat, f.frame, f.channels, f.encoding.name, want)
	}
	return f, nil
}

// encodingOf returns the encoding of a format code and the bits in which a
// sample is stored. A PCM sample whose bits do not fill its bytes is stored at
// the upper end of them, the rest being zero, so that the encoding of the
// whole bytes gives the right value.
func encodingOf(code uint16, bits int) (encoding, error) {
	size := (bits + 7) / 8
	for _, e := range encodings {
		if e.code == code && e.bytes == size && (code == codePCM || e.bytes*8 == bits) {
			return e, nil
		}
	}
	switch code {
	case codePCM:
		return encoding{}, fmt.Errorf("%w: PCM of %d bits, want 8, 16, 24 or 32: convert the file to 16 or 24 bits", ErrEncoding, bits)
	case codeFloat:
		return encoding{}, fmt.Errorf("%w: float of %d bits, want 32 or 64: convert the file to one of them", ErrEncoding, bits)
	}
	name := codecs[code]
	if name == "" {
		name = "unknown codec"
	}
	return encoding{}, fmt.Errorf("%w: %s (format code 0x%04X): convert the file to 16-bit PCM", ErrEncoding, name, code)
}
