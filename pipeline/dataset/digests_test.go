package dataset

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// What describes a recording is named, and its digests are those of the files.
func TestSourcesAndDigests(t *testing.T) {
	const clean = "1\t1.1\t1\n1.1\t1.3\t2\n"
	of := func(text string) string { return fmt.Sprintf("%x", sha256.Sum256([]byte(text))) }
	layout, err := ParseLayout("trial.yaml", []byte(minimal))
	if err != nil {
		t.Fatal(err)
	}
	const broken = "2\t1\t1\n1\t2\t9\n"
	s, err := Open(plant(t, map[string]string{
		"people.csv": "name,age\nann,31\n", "ann_a.wav": "4000 10", "ann_a.tsv": clean, "ann_b.wav": "4000 10", "ann_c.wav": "4000 10", "ann_c.tsv": broken,
	}), layout)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for i, tt := range []struct {
		sources []string
		digest  string
		err     error
		defects []string
	}{
		{[]string{"people.csv", "ann_a.tsv"}, of(clean), nil, nil},
		{[]string{"people.csv"}, "", ErrNoReference, nil},
		{[]string{"people.csv", "ann_c.tsv"}, of(broken), ErrUnusable, []string{"1 end before start!", "2 unknown code!"}},
	} {
		rec := &s.Recordings[i]
		if got := s.Sources(rec); !slices.Equal(got, tt.sources) {
			t.Errorf("%s: described in %v, want %v", rec.ID, got, tt.sources)
		}
		_, digest, err := s.Reference(rec, 4000, 10*second)
		if digest != tt.digest || !errors.Is(err, tt.err) {
			t.Errorf("%s: digest %q, %v; want %q, %v", rec.ID, digest, err, tt.digest, tt.err)
		}
		if now, err := s.ReferenceDigest(rec); now != tt.digest || err != nil {
			t.Errorf("%s: digest now %q, %v; want %q", rec.ID, now, err, tt.digest)
		}
		if tt.err == ErrNoReference {
			continue
		}
		if got := brief(s.ReferenceDefects(rec)); !slices.Equal(got, tt.defects) {
			t.Errorf("%s: defects %v, want %v", rec.ID, got, tt.defects)
		}
	}
	if got, err := s.FileDigest("people.csv"); got != of("name,age\nann,31\n") || err != nil {
		t.Errorf("digest of the table %q, %v", got, err)
	}
	if _, err := s.FileDigest("none.csv"); err == nil || !strings.HasPrefix(err.Error(), "none.csv: ") {
		t.Errorf("digest of a file that is not there: %v", err)
	}
}

// A table of all annotations has the digest that it had on opening.
func TestDigestOfATable(t *testing.T) {
	base := minimal[:strings.Index(minimal, "references:")]
	layout, err := ParseLayout("trial.yaml", []byte(base+keyed))
	if err != nil {
		t.Fatal(err)
	}
	const beats = "file,at,what\nann_a.wav,400,a\nann_a.wav,800,b\nann_b.wav,4,b\n"
	s, err := Open(plant(t, map[string]string{"people.csv": "name,age\nann,31\n", "ann_a.wav": "4000 10", "ann_b.wav": "4000 10", "beats.csv": beats}), layout)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	want := fmt.Sprintf("%x", sha256.Sum256([]byte(beats)))
	ref, digest, err := s.Reference(&s.Recordings[0], 4000, 10*second)
	if err != nil || digest != want || fmt.Sprint(ref.Points) != "[{100ms S1} {200ms S2}]" {
		t.Errorf("points %v, digest %s, %v", ref.Points, digest, err)
	}
	if now, err := s.ReferenceDigest(&s.Recordings[1]); now != want || err != nil {
		t.Errorf("digest now %s, %v", now, err)
	}
}

// A recording may have 1000 rows and one per 10 ms, one of unknown length as many as
// the longest that is read.
func TestRowsOfARecording(t *testing.T) {
	for length, want := range map[time.Duration]int{10 * time.Millisecond: 1001, 19 * time.Millisecond: 1001, 20 * time.Millisecond: 1002, time.Minute: 7000} {
		if got := MaxRows(length); got != want {
			t.Errorf("%v: %d rows, want %d", length, got, want)
		}
	}
	if MaxRows(0) != MaxRows(unknownLength) || MaxRows(-1) != MaxRows(0) {
		t.Errorf("of unknown length: %d and %d rows", MaxRows(0), MaxRows(-1))
	}
	for length, want := range map[time.Duration]string{0: "unknown length", 1500 * time.Millisecond: "1.5 s", 1: "0.000000001 s"} {
		if got := lengthInWords(length); got != want {
			t.Errorf("length %d is %q, want %q", length, got, want)
		}
	}
	for file, want := range map[string]byte{"a.tsv": '\t', "a.TSV": '\t', "a.csv": ',', "a.txt": ','} {
		if got := delimiterOf("", file); got != want {
			t.Errorf("%s is delimited by %q, want %q", file, got, want)
		}
	}
	for name, want := range delimiters {
		if delimiterOf(name, "a.tsv") != want || delimiterName(want) != name {
			t.Errorf("delimiter %s is %q, and that is %s", name, delimiterOf(name, "a.tsv"), delimiterName(want))
		}
	}
}
