package segment

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"strconv"
	"strings"
)

// AudioFile identifies the audio file of a recording that a model has learnt
// from. A person who stands in the data under another name is known by it. Size
// and start only save time: a file that differs in them need not be read whole.
type AudioFile struct {
	Digest string // SHA-256 of the file, in hexadecimal digits
	Size   int64  // in bytes
	Start  uint32 // CRC-32 (IEEE) of the first AudioStart bytes, or of all if there are fewer
}

// AudioStart is the number of bytes that AudioFile.Start covers.
const AudioStart = 4096

// AudioStartOf returns the checksum of the start of a file, of which content is
// the first AudioStart bytes or more.
func AudioStartOf(content []byte) uint32 {
	return crc32.ChecksumIEEE(content[:min(len(content), AudioStart)])
}

// MarshalText writes digest, size and start into one word each.
func (a AudioFile) MarshalText() ([]byte, error) {
	return fmt.Appendf(nil, "%s %d %08x", a.Digest, a.Size, a.Start), nil
}

// UnmarshalText is the inverse of MarshalText.
func (a *AudioFile) UnmarshalText(text []byte) error {
	words := strings.Split(string(text), " ")
	if len(words) != 3 {
		return fmt.Errorf("audio file %.100q: want a SHA-256, a size and a CRC-32", text)
	}
	digest, err := hex.DecodeString(words[0])
	size, sizeErr := strconv.ParseInt(words[1], 10, 64)
	start, startErr := strconv.ParseUint(words[2], 16, 32)
	if err := cmp.Or(err, sizeErr, startErr); err != nil || len(digest) != sha256.Size {
		return fmt.Errorf("audio file %.100q: want a SHA-256, a size and a CRC-32", text)
	}
	*a = AudioFile{words[0], size, uint32(start)}
	return nil
}

func (a AudioFile) compare(b AudioFile) int {
	return cmp.Or(cmp.Compare(a.Digest, b.Digest), cmp.Compare(a.Size, b.Size), cmp.Compare(a.Start, b.Start))
}
