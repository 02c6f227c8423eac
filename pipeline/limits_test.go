package pipeline

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// headerOf returns the header of a WAV file of 8-bit samples at 500 Hz.
func headerOf(samples uint32) []byte {
	var b bytes.Buffer
	for _, v := range []any{
		[]byte("RIFF"), samples + 36, []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1), uint32(500), uint32(500),
		uint16(1), uint16(8), []byte("data"), samples,
	} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	return b.Bytes()
}

// A recording of ten hours, in a sparse file, and one whose annotation repeats a
// row cost their own rows alone, which say why.
func TestInputsBeyondTheBounds(t *testing.T) {
	const n, hours = 4, 10
	c := crowd(t, n)
	run(t, c)
	want := rowsOf(t, c.Out)
	dir := c.Inputs[0].Data
	long, repeated := want["p000001_aortic"], want["p000001_mitral"]
	samples := hours * 3600 * 500
	header := headerOf(uint32(samples))
	writeText(t, filepath.Join(dir, long.Audio), string(header))
	if err := os.Truncate(filepath.Join(dir, long.Audio), int64(len(header)+samples)); err != nil {
		t.Fatal(err)
	}
	annotation := filepath.Join(dir, strings.TrimSuffix(repeated.Audio, ".wav")+".csv")
	text, err := os.ReadFile(annotation)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	writeText(t, annotation, string(text)+strings.Repeat(lines[len(lines)-2], 5000))

	c = elsewhere(t, c)
	got := accounted(t, run(t, c), c.Out, n)
	undisturbed(t, want, got, map[string]bool{long.Recording: true, repeated.Recording: true})
	row := got[long.Recording]
	if row.Outcome != table.Excluded || !strings.Contains(row.Reason, "lasts 36000.000 s, more than the 2h0m0s of max-duration") {
		t.Errorf("a recording of %d hours: %s, %s", hours, row.Outcome, row.Reason)
	}
	if row.AudioDigest == "" {
		t.Error("the long recording has no digest")
	}
	row = got[repeated.Recording]
	if row.Outcome != table.Done || !strings.Contains(row.ReferenceNote, ".csv:1202: more than the 1200 rows that a recording of 2 s can have") {
		t.Errorf("an annotation of 5000 rows: %s, %q", row.Outcome, row.ReferenceNote)
	}
}

// Where every recording waits for the memory of all, the tables are the same.
func TestRecordingsThatWaitForMemory(t *testing.T) {
	c := crowd(t, 5)
	c.Workers = 3
	segment := func(c config.Config) {
		if _, err := Segment(t.Context(), c, nil); err != nil {
			t.Fatal(err)
		}
	}
	segment(c)
	want := tablesOf(t, c.Out)

	ordinary, all := ordinaryMemory, longMemory
	t.Cleanup(func() { ordinaryMemory, longMemory = ordinary, all })
	ordinaryMemory, longMemory = 1, 1000
	c = elsewhere(t, c)
	segment(c)
	if diff := cmp.Diff(want, tablesOf(t, c.Out)); diff != "" {
		t.Error("the tables differ")
	}
}
