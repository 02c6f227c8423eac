package dataset

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Every figure of the inventory of a small data set, counted by hand: a and b of ann,
// c of bob, whose reference excludes it, d of nobody, whose audio is broken, and a
// reference of no recording.
func TestInventory(t *testing.T) {
	layout, err := ParseLayout("trial.yaml", []byte(strings.NewReplacer(
		"licence: none\n", "licence: none\ndoi: 10.1/x\nnotes: [handle with care]\n",
		"(?P<person>\\w+)_(?P<site>\\w+)", "(?P<person>[a-z]*)_(?P<site>\\w+)",
		"{column: age, name: age}", "{column: age, name: age, type: number}\n      - {column: sex, name: sex}",
	).Replace(minimal)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(plant(t, map[string]string{
		"people.csv": "name,age,sex\nann,31,f\nbob,7.5,m\n",
		"ann_1.wav":  "4000 10", "ann_1.tsv": "1\t1.1\t1\n1.1\t1.3\t2\n1.3\t1.4\t3\n1.4\t2\t4\n2\t2.1\t1\n",
		"ann_2.wav": "2000 20", "ann_2.tsv": "0.5\t0.6\t1\n0.6\t0.7\t2\n0.7\t0.8\t3\n0.8\t1\t4\n1\t1.1\t1\n1.1\t1.2\t2\n",
		"bob_1.wav": "4000 5", "bob_1.tsv": "1\t2\t7\n",
		"_1.wav": "broken", "_1.tsv": "1\t2\t3\n",
		"eve_1.tsv": "2\t1\t1\n",
	}), layout)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	inv, err := s.Scan(t.Context(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	defects := map[string]bool{}
	for _, d := range inv.Defects {
		defects[fmt.Sprintf("%s %v", d.Place(), d.Excludes)] = true
	}
	inv.Defects, inv.DefectCounts, inv.Warnings = nil, nil, nil
	want := &Inventory{
		Layout: "trial", Title: "Trial", Version: "1", Citation: "none", DOI: "10.1/x", Licence: "none",
		Recordings: 4, Unusable: 1, People: 3, PersonUnknown: 1, Seconds: 35, ShortestSeconds: 5, LongestSeconds: 20,
		Reference: "states", References: []string{"states"}, Kind: "intervals", Annotations: 4, Annotated: 2, AnnotatedSeconds: 1.8, S1: 4, S2: 2,
		Rates: []RateCount{{2000, 1}, {4000, 2}},
		Labels: []LabelSummary{
			{Name: "site", Values: []ValueCount{{"1", 3, 3}, {"2", 1, 1}}},
			{Name: "age", Numeric: true, Missing: 1, Range: &Range{N: 3, Min: 7.5, Median: 31, Max: 31}},
			{Name: "sex", Missing: 1, Values: []ValueCount{{"f", 2, 1}, {"m", 1, 1}}},
		},
		HeartRate: &RateSummary{Recordings: 2, Min: 60, Max: 120, Deciles: [9]float64{66, 72, 78, 84, 90, 96, 102, 108, 114}},
		Notes:     []string{"handle with care"},
	}
	if d := cmp.Diff(want, inv, cmp.Comparer(func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 })); d != "" {
		t.Errorf("inventory (− want, + got):\n%s", d)
	}
	// What is wrong within a reference of no recording is listed and excludes nothing.
	for _, want := range []string{"bob_1.tsv:1 true", "eve_1.tsv false", "eve_1.tsv:1 false"} {
		if !defects[want] {
			t.Errorf("no defect at %s among %v", want, defects)
		}
	}
}

// The annotated time of points is that from the first to the last.
func TestInventoryOfPoints(t *testing.T) {
	layout, err := ParseLayout("two.yaml", []byte(twoReferences))
	if err != nil {
		t.Fatal(err)
	}
	s, err := OpenWith(plant(t, map[string]string{"a.wav": "1000 5", "a.beats.csv": "500,1\n800,2\n1250,1\n1550,2\n2000,1\n", "b.wav": "1000 6", "b.beats.csv": "700,2\n"}), layout, Options{Reference: "beats"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	inv, err := s.Scan(t.Context(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	if inv.Annotated != 2 || inv.AnnotatedSeconds != 1.5 || inv.S1 != 3 || inv.S2 != 3 || inv.HeartRate.Recordings != 1 || inv.HeartRate.Max != 80 {
		t.Errorf("inventory %+v, heart rate %+v", inv, inv.HeartRate)
	}
}

// The text shows twelve values of a label and counts the others, and what is missing.
func TestInventoryShowsTwelveValues(t *testing.T) {
	for n, want := range map[int]string{12: "v9 10 (9), v10 11 (10), v11 12 (11), missing 2\n", 14: "v9 10 (9), v10 11 (10), v11 12 (11), 2 more values, missing 2\n"} {
		inv := Inventory{Labels: []LabelSummary{{Name: "x", Missing: 2}}}
		for i := range n {
			inv.Labels[0].Values = append(inv.Labels[0].Values, ValueCount{fmt.Sprint("v", i), i + 1, i})
		}
		var b strings.Builder
		if err := inv.WriteText(&b, -1); err != nil || !strings.Contains(b.String(), want) || !strings.HasSuffix(b.String(), "\nno defects\n") {
			t.Errorf("%d values: no %q in\n%s, %v", n, want, b.String(), err)
		}
	}
	inv := Inventory{PersonUnknown: 3, Rates: []RateCount{{4000, 2}}, Labels: []LabelSummary{{Name: "age", Range: &Range{N: 3, Min: 1.5, Median: 2, Max: 9}}}, Warnings: []string{"a table is missing"}}
	var b strings.Builder
	if err := inv.WriteText(&b, -1); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"people       0 (each of 3 recordings of an unknown person counts as one)\n", "  age  1.5 to 9, median 2\n", "\nwarning: a table is missing\n"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
}

// Whatever is read in whatever order, places and bytes are those of the file and the
// digest is that of all of it.
func TestFileReadsAndSeeks(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 9))
	for trial := range 60 {
		content := make([]byte, random.IntN(3)*70_000+random.IntN(2000))
		for i := range content {
			content[i] = byte(random.Uint32())
		}
		s := openLayout(t, plant(t, map[string]string{"a.wav": string(content)}), "plain")
		f, err := s.OpenFile("a.wav")
		if err != nil {
			t.Fatal(err)
		}
		want := bytes.NewReader(content)
		if f.Size() != int64(len(content)) {
			t.Fatalf("size %d, want %d", f.Size(), len(content))
		}
		for range random.IntN(8) {
			if random.IntN(2) == 0 {
				a, b := make([]byte, random.IntN(1000)), make([]byte, 1000)
				n, err := io.ReadFull(f, a)
				m, errWant := io.ReadFull(want, b[:len(a)])
				if n != m || !bytes.Equal(a[:n], b[:m]) || !errors.Is(err, errWant) {
					t.Fatalf("trial %d: read %d, %v; want %d, %v", trial, n, err, m, errWant)
				}
				continue
			}
			whence := random.IntN(3)
			offset := map[int]int64{io.SeekStart: 0, io.SeekCurrent: -want.Size() + int64(want.Len()), io.SeekEnd: -want.Size()}[whence] + random.Int64N(want.Size()+1)
			at, err := f.Seek(offset, whence)
			if atWant, errWant := want.Seek(offset, whence); at != atWant || (err == nil) != (errWant == nil) {
				t.Fatalf("trial %d: seek to %d, %v; want %d, %v", trial, at, err, atWant, errWant)
			}
		}
		if got, err := f.Digest(); err != nil || got != fmt.Sprintf("%x", sha256.Sum256(content)) {
			t.Fatalf("trial %d: digest %s, %v", trial, got, err)
		}
		f.Close()
	}
}
