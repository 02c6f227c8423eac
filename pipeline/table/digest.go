package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/parquet"

	"phonocycle/pipeline/table/pages"
)

// The Parquet writer of Arrow cannot write checksums of pages. So every file
// holds the SHA-256 of all its bytes, as 64 hexadecimal digits, the last pair
// of its key/value metadata. It is computed with zeros in place of the digits.
// A file of recordings, which is the last of its part to be written, also holds
// the digests of the files that were made with it, under keyDigest, a full stop
// and the name of their table.
const keyDigest = keyPrefix + "sha256"

const digestLength = 2 * sha256.Size

var noDigest = strings.Repeat("0", digestLength)

// pairStart returns what stands in a footer before the length of the value of a
// key: the key and, in the compact protocol of Thrift, that the next field of the
// pair is a string.
func pairStart(key string) []byte { return append([]byte(key), 0x18) }

// digestAt returns where in a footer the digest under the given key begins, or
// -1. It searches the bytes and does not decode the footer, because damage must
// not hide that there is a digest. The last pair counts: before the metadata of
// the file, a footer holds text of the data.
func digestAt(footer []byte, key string) int {
	pair := append(pairStart(key), digestLength)
	at := bytes.LastIndex(footer, pair)
	if at < 0 || at+len(pair)+digestLength > len(footer) {
		return -1
	}
	return at + len(pair)
}

// statedDigest returns the digest under the given key, empty where the footer
// has none.
func statedDigest(footer []byte, key string) string {
	at := digestAt(footer, key)
	if at < 0 {
		return ""
	}
	return string(footer[at : at+digestLength])
}

const remedy = "if a run wrote it, remove it and repeat the command that made it with --resume, else copy it again"

func notWhole(err error) error {
	return fmt.Errorf("%w: is it a Parquet file, whole? (%s)", err, remedy)
}

var (
	errDamaged  = errors.New("the file is damaged or was changed: its bytes do not have the SHA-256 that it states; " + remedy)
	errNoDigest = errors.New("the file has the metadata of phonocycle but no SHA-256: if an earlier version made the folder, make it again with this one; " +
		"if the file is damaged, remove it and repeat the command that made it with --resume; if another program wrote it, leave out all metadata with keys such as " + keyDigest)
)

// ownDigest returns the digest that a file of this program states, and nothing of
// one of another program. Any of the keys tells them apart, so that no small
// damage turns one into the other.
func ownDigest(footer []byte) (string, error) {
	own := [...]string{keyTable, keyVersion, keyTool, keyConfig, keyColumns, keyDigest}
	if !slices.ContainsFunc(own[:], func(key string) bool { return bytes.Contains(footer, pairStart(key)) }) {
		return "", nil
	}
	stated := statedDigest(footer, keyDigest)
	if stated == "" {
		return "", errNoDigest
	}
	return stated, nil
}

// checkDigest makes sure that a file of this program has the digest that it
// states. Files of other programs pass.
func checkDigest(r io.ReaderAt, size int64, footer []byte) error {
	stated, err := ownDigest(footer)
	if err != nil || stated == "" {
		return err
	}
	from := size - pages.TailLength - int64(len(footer)-digestAt(footer, keyDigest))
	to := from + digestLength
	h := sha256.New()
	content := io.MultiReader(io.NewSectionReader(r, 0, from), strings.NewReader(noDigest), io.NewSectionReader(r, to, size-to))
	if _, err := io.CopyBuffer(h, content, make([]byte, min(size, 1<<16))); err != nil {
		return err
	}
	if hex.EncodeToString(h.Sum(nil)) != stated {
		return errDamaged
	}
	return nil
}

// Verify makes sure that the file at path is as it was written.
func Verify(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("read table: %w", err)
	}
	defer f.Close()
	footer, size, err := readFooter(f)
	if err == nil {
		err = checkDigest(f, size, footer)
	}
	if err != nil {
		return fmt.Errorf("read %s: %w", path, err)
	}
	return nil
}

// CheckSiblings makes sure that a part of other tables of folder dir was made
// together with that of recordings. It reads the footers alone; see [Verify].
func CheckSiblings(dir string, part int, others ...Parts) error {
	path := PartsOf[Recording](dir).Path(part)
	recordings, err := footerOf(path)
	if err != nil {
		return err
	}
	for _, p := range others {
		if err := p.checkSibling(part, path, recordings); err != nil {
			return err
		}
	}
	return nil
}

// checkBeside does the same for all parts of one table, as far as there are
// parts of recordings beside it that name the table.
func (p Parts) checkBeside(parts []int) error {
	beside := PartsOf[Recording](filepath.Dir(filepath.Clean(p.Dir)))
	for _, part := range parts {
		if there, err := beside.Exists(part); err != nil || !there {
			return err
		}
		recordings, err := footerOf(beside.Path(part))
		if err != nil {
			return err
		}
		if statedDigest(recordings, p.siblingKey()) == "" {
			return nil
		}
		if err := p.checkSibling(part, beside.Path(part), recordings); err != nil {
			return err
		}
	}
	return nil
}

// checkSibling compares the digest of a part with that in the footer of
// recordings, the file at path.
func (p Parts) checkSibling(part int, path string, recordings []byte) error {
	footer, err := footerOf(p.Path(part))
	if err != nil {
		return err
	}
	if stated := statedDigest(recordings, p.siblingKey()); stated == "" || stated != statedDigest(footer, keyDigest) {
		return fmt.Errorf("%s and %s were not made together, or one of them is damaged; remove both and repeat the command that made them with --resume",
			p.Path(part), path)
	}
	return nil
}

func (p Parts) siblingKey() string { return siblingKey(filepath.Base(p.Dir)) }

// siblingKey is the key under which a file of recordings holds the digest of a
// file of another table.
func siblingKey(table string) string { return keyDigest + "." + table }

func footerOf(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read table: %w", err)
	}
	defer f.Close()
	footer, _, err := readFooter(f)
	if err == nil {
		_, err = ownDigest(footer)
	}
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	return footer, nil
}

// readFooter returns the footer of a file and the file's size.
func readFooter(r parquet.ReaderAtSeeker) (footer []byte, size int64, err error) {
	if footer, size, err = pages.ReadFooter(r); err != nil {
		err = notWhole(err)
	}
	return footer, size, err
}

// digester passes the bytes of a file on and digests them.
type digester struct {
	w        io.Writer
	hash     hash.Hash
	size     int64
	inFooter bool
	footer   []byte // with the tail of the file
}

func (d *digester) reset(w io.Writer) {
	d.w, d.size, d.inFooter, d.footer = w, 0, false, d.footer[:0]
	d.hash.Reset()
}

// Write implements io.Writer.
func (d *digester) Write(p []byte) (int, error) {
	n, err := d.w.Write(p)
	d.hash.Write(p[:n])
	if d.size += int64(n); d.inFooter {
		d.footer = append(d.footer, p[:n]...)
	}
	return n, err
}

// sum returns the digest of a file that holds zeros in its place, and where in
// the file that is.
func (d *digester) sum() (digest string, at int64) {
	return hex.EncodeToString(d.hash.Sum(nil)), d.size - int64(len(d.footer)-digestAt(d.footer, keyDigest))
}
