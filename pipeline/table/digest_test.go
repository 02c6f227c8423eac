package table

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
)

// No flipped bit in a file passes, wherever it stands.
func TestFlippedBits(t *testing.T) {
	t.Parallel()
	at, n, yes := 740*time.Millisecond, int32(3), true
	flipped[every](t, small(t), 1)
	flippedIn(t, Recording{Recording: "a_AV", Person: "a", Outcome: Done, AudioDigest: "00ff", Fold: &n, Duration: &at, PersonInTrainingData: &yes})
	flippedIn(t, State{Recording: "a_AV", Origin: Predicted, State: "S1", Start: 1, End: at})
	flippedIn(t, Cycle{Recording: "a_AV", Person: "a", Origin: Reference, End: at})
	flippedIn(t, Person{Person: "a", Recordings: 2})
	flippedIn(t, Window{Recording: "a_AV", Person: "a", Samples: 5, Cut: true})
	flippedIn(t, Match{Recording: "a_AV", Class: "S2", Anchor: at, Delta: &at, Outcome: "TP"})
	flippedIn(t, Score{Recording: "a_AV", Class: "S2", ToleranceMS: 60, TP: 7, F1: 0.5})
}

func flippedIn[T Row](t *testing.T, row T) {
	path := write(t, filepath.Join(t.TempDir(), "a.parquet"), nil, []Record[T]{{Row: row}, {Row: row}})
	flipped[T](t, readFile(t, path), 11)
}

// flipped flips a bit of every byte, or of every stride-th.
func flipped[T Row](t *testing.T, b []byte, stride int) {
	t.Helper()
	if _, err := drain[T](b, 100); err != nil {
		t.Fatal(err)
	}
	accepted := 0
	for i := 0; i < len(b); i += stride {
		b[i] ^= 1 << (i % 8)
		if _, err := drain[T](b, 100); err == nil {
			accepted++
		}
		b[i] ^= 1 << (i % 8)
	}
	var row T
	if accepted > 0 {
		t.Errorf("%s: %d of %d files with a flipped bit are accepted", row.Table().Name, accepted, len(b)/stride)
	}
}

func readFile(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The digest can be computed by hand, as the documentation of the package says,
// even of a file whose rows hold what looks like a digest.
func TestDigestByHand(t *testing.T) {
	const key = "phonocycle.sha256\x18\x40"
	rows := everyRows()
	rows[0].Row.Text, rows[0].Row.Sort = key+noDigest, key+noDigest
	path := write(t, filepath.Join(t.TempDir(), "a.parquet"), everyExtra, rows)
	b := readFile(t, path)
	at := bytes.LastIndex(b, []byte(key)) + len(key)
	stated := string(b[at : at+64])
	copy(b[at:], strings.Repeat("0", 64))
	if sum := sha256.Sum256(b); hex.EncodeToString(sum[:]) != stated {
		t.Errorf("the file states %s and has %x", stated, sum)
	}
	if err := Verify(path); err != nil {
		t.Error(err)
	}
}

// A file that is not as this version wrote it is refused with its name, the cause
// and a remedy.
func TestFilesThatWereChanged(t *testing.T) {
	dir := t.TempDir()
	whole := readFile(t, write(t, filepath.Join(dir, "whole.parquet"), nil, []Record[Score]{{}}))
	older := write(t, filepath.Join(dir, "older.parquet"), nil, []Record[olderScore]{{}})
	tests := []struct {
		name string
		file []byte
		want string
	}{
		{"another value", bytes.Replace(whole, []byte("00ff"), []byte("00fe"), 1), "do not have the SHA-256 that it states"},
		{"no digest", bytes.Replace(whole, []byte("phonocycle.sha256"), []byte("phonocycle.sha255"), 1), "if an earlier version made the folder, make it again with this one"},
		{"half of it", whole[:len(whole)/2], "is it a Parquet file, whole?"},
		{"longer", append(bytes.Clone(whole), 0), "is it a Parquet file, whole?"},
		{"longer in front", append([]byte("PAR1"), whole...), "repeat the command that made it with --resume, else copy it again"},
		{"older table", readFile(t, older), "holds version 0 of the table scores, made by phonocycle 1.2.3"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			path := filepath.Join(dir, "changed.parquet")
			if err := os.WriteFile(path, test.file, 0o644); err != nil {
				t.Fatal(err)
			}
			if _, err := Open[Score](path); err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), path) {
				t.Errorf("%v, want %s: %s", err, path, test.want)
			}
		})
	}
}

// olderScore stands for the table scores of an earlier version.
type olderScore struct{ Score }

func (olderScore) Table() Info { return Info{Name: "scores"} }

// The name of this program among the values of another's file does not make the
// file ours.
func TestForeignValuesLikeKeys(t *testing.T) {
	rows := foreignRows()
	for i := range rows {
		rows[i].Text, rows[i].Sort = "phonocycle.csv", "phonocycle.table_of_mine"
	}
	var b bytes.Buffer
	w := parquet.NewGenericWriter[foreignRow](&b)
	if _, err := w.Write(rows); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if n, err := drain[every](b.Bytes(), 1000); err != nil || n != len(rows) {
		t.Errorf("%d rows of %d, %v", n, len(rows), err)
	}
}

// A part of recordings knows the files that were made with it, and no others.
func TestSiblings(t *testing.T) {
	dir := t.TempDir()
	create := func(name string) string {
		t.Helper()
		if err := os.MkdirAll(filepath.Join(dir, name), 0o755); err != nil {
			t.Fatal(err)
		}
		return Parts{filepath.Join(dir, name)}.Path(0)
	}
	states := PartsOf[State](dir)
	write(t, create("states"), nil, []Record[State]{{Row: State{State: "S1"}}})
	w, err := Create[Recording](create("recordings"), nil, everyMeta)
	if err != nil {
		t.Fatal(err)
	}
	digestOf := func(path string) string {
		footer, err := footerOf(path)
		if err != nil {
			t.Fatal(err)
		}
		return statedDigest(footer, keyDigest)
	}
	if err := w.AddSibling("states", digestOf(states.Path(0))); err != nil {
		t.Fatal(err)
	}
	if err := w.Commit(); err != nil {
		t.Fatal(err)
	}
	if digest := digestOf(w.pending.Path); digest != w.Digest() {
		t.Errorf("the file states %s, its writer %s", digest, w.Digest())
	}
	if err := CheckSiblings(dir, 0, states); err != nil {
		t.Error(err)
	}
	refused := func(why string, other Parts) {
		t.Helper()
		if err := CheckSiblings(dir, 0, other); err == nil || !strings.Contains(err.Error(), other.Path(0)+" and "+w.pending.Path+" were not made together") {
			t.Errorf("%s: %v", why, err)
		}
	}
	write(t, create("cycles"), nil, []Record[Cycle]{{}})
	refused("a table that recordings does not name", PartsOf[Cycle](dir))
	if err := states.Remove(0); err != nil {
		t.Fatal(err)
	}
	write(t, states.Path(0), nil, []Record[State]{{Row: State{State: "S2"}}})
	refused("a file of another run", states)
}

// Parts of two runs are not read as one table.
func TestPartsOfTwoRuns(t *testing.T) {
	p := Parts{t.TempDir()}
	for i, config := range []string{"one", "two"} {
		w, err := Create[Score](p.Path(i), nil, Metadata{Config: config})
		if err == nil {
			err = w.Commit()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	var got error
	for _, got = range ReadParts[Score](p) {
	}
	if got == nil || !strings.Contains(got.Error(), p.Path(1)+": not made by the run that made "+p.Path(0)) {
		t.Errorf("%v", got)
	}
}
