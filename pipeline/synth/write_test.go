package synth

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
)

// digests returns the SHA-256 of each file below dir.
func digests(t *testing.T, dir string) map[string]string {
	t.Helper()
	sums := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		sums[filepath.ToSlash(name)] = fmt.Sprintf("%x", sha256.Sum256(content))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return sums
}

// shortDemo returns the demonstration with no recording longer than two
// seconds.
func shortDemo() *Scenario {
	s := Demo()
	for i := range s.People {
		for j := range s.People[i].Recordings {
			t := &s.People[i].Recordings[j]
			t.Duration = min(t.Duration, 2*time.Second)
		}
	}
	return s
}

// Equal seeds give equal bytes; a recording does not depend on the others.
func TestWriteDeterminism(t *testing.T) {
	a, b, c, part := t.TempDir(), t.TempDir(), t.TempDir(), t.TempDir()
	for _, w := range []struct {
		dir  string
		seed uint64
	}{{a, 7}, {b, 7}, {b, 7}} {
		if err := shortDemo().Write(t.Context(), w.dir, w.seed); err != nil {
			t.Fatal(err)
		}
	}
	first := digests(t, a)
	if diff := cmp.Diff(first, digests(t, b)); diff != "" {
		t.Errorf("equal seeds differ:\n%s", diff)
	}
	s := shortDemo()
	s.People = s.People[:1]
	if err := s.Write(t.Context(), c, 8); err != nil {
		t.Fatal(err)
	}
	if other := digests(t, c)["recordings/af01_mitral.wav"]; other == first["recordings/af01_mitral.wav"] {
		t.Error("another seed gives the same recording")
	}
	s = shortDemo()
	s.People = s.People[3:5]
	s.People[0], s.People[1] = s.People[1], s.People[0]
	if err := s.Write(t.Context(), part, 7); err != nil {
		t.Fatal(err)
	}
	for name, sum := range digests(t, part) {
		if strings.HasPrefix(name, "recordings/") && first[name] != sum {
			t.Errorf("%s depends on the people before it", name)
		}
	}
}

// What is read back from the files is what was rendered, to half a step of 16
// bit, and the truth to the nanosecond.
func TestWriteReadsBack(t *testing.T) {
	dir := t.TempDir()
	s := shortDemo()
	if err := s.Write(t.Context(), dir, 3); err != nil {
		t.Fatal(err)
	}
	var d audio.Decoder
	for i := range s.People {
		p := &s.People[i]
		for j := range p.Recordings {
			take := &p.Recordings[j]
			base := filepath.Join(dir, "recordings", p.recordingID(take))
			r, err := s.render(i, j, 3)
			if err != nil {
				t.Fatal(err)
			}
			clip, err := d.DecodeFile(base + ".wav")
			if take.File != AudioFile {
				if err == nil {
					t.Errorf("%s was read as audio", base)
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			if clip.Rate != s.Rate || clip.Channels != 1 || clip.BitsPerSample != 16 || len(clip.Samples) != len(r.Samples) {
				t.Fatalf("%s: %d Hz, %d channels, %d bit, %d samples", base, clip.Rate, clip.Channels, clip.BitsPerSample, len(clip.Samples))
			}
			for n, v := range clip.Samples {
				step := 1.0 / (1 << 16)
				if r.Samples[n] > 1-step {
					step *= 2 // full scale is one step below 1
				}
				if math.Abs(v-r.Samples[n]) > step {
					t.Fatalf("%s: sample %d is %g, want %g", base, n, v, r.Samples[n])
				}
			}
			if take.Unannotated {
				if _, err := os.Stat(base + ".csv"); err == nil {
					t.Errorf("%s has a truth", base)
				}
				continue
			}
			if diff := cmp.Diff(r.Truth, readTruth(t, base+".csv")); diff != "" {
				t.Errorf("%s: truth differs:\n%s", base, diff)
			}
		}
	}
}

func readTruth(t *testing.T, path string) []pcg.Interval {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(content)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var intervals []pcg.Interval
	for _, row := range rows[1:] {
		start, err1 := time.ParseDuration(row[0] + "s")
		end, err2 := time.ParseDuration(row[1] + "s")
		state, err3 := pcg.ParseState(row[2])
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("%s: row %v", path, row)
		}
		intervals = append(intervals, pcg.Interval{Start: start, End: end, State: state})
	}
	return intervals
}

func TestSeconds(t *testing.T) {
	tests := []struct {
		t    time.Duration
		want string
	}{
		{0, "0"},
		{250 * time.Microsecond, "0.00025"},
		{12 * time.Second, "12"},
		{100 * time.Second, "100"},
		{1500000001, "1.500000001"},
	}
	for _, test := range tests {
		if got := seconds(test.t); got != test.want {
			t.Errorf("seconds(%d) = %q, want %q", test.t, got, test.want)
		}
	}
}

// A recording that would stay behind from another data set is refused.
func TestWriteRefusesOtherFiles(t *testing.T) {
	dir := t.TempDir()
	if err := WriteMany(t.Context(), dir, 2, time.Second, 1); err != nil {
		t.Fatal(err)
	}
	err := WriteDemo(t.Context(), dir, 1)
	if err == nil || !strings.Contains(err.Error(), "choose an empty folder") {
		t.Errorf("error %v", err)
	}
}

func TestWriteFailures(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := WriteDemo(t.Context(), file, 1); err == nil {
		t.Error("a file was taken for a folder")
	}
	s := Demo()
	s.People[0].Recordings[0].Gain = 50 // beyond full scale
	err := s.Write(t.Context(), t.TempDir(), 1)
	if want := s.document.Place(takeKey(0, 0)) + ": recording af01_aortic"; err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("error %v, want one with %q", err, want)
	}
}

func TestWriteMany(t *testing.T) {
	for _, n := range []int{1, 4, 10} {
		dir := t.TempDir()
		if err := WriteMany(t.Context(), dir, n, 1500*time.Millisecond, 2); err != nil {
			t.Fatal(err)
		}
		files, err := filepath.Glob(filepath.Join(dir, "recordings", "*.wav"))
		if err != nil || len(files) != n {
			t.Errorf("%d recordings, want %d; %v", len(files), n, err)
		}
	}
}

func BenchmarkWriteMany(b *testing.B) {
	dir := b.TempDir()
	for b.Loop() {
		if err := WriteMany(b.Context(), dir, 200, 3*time.Second, 1); err != nil {
			b.Fatal(err)
		}
	}
}
