package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"phonocycle/configs"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/train"
)

// throughHeaders returns the data of a source of layout cinc2016 with a layout
// that reads the same recordings through their WFDB headers.
func throughHeaders(t *testing.T, src config.Input) config.Input {
	t.Helper()
	text, err := configs.FS.ReadFile("layouts/cinc2016.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for old, now := range map[string]string{"training-[a-f]/*.wav\"": "training-[a-f]/*.hea\"\n  channel: PCG", `\d+)\.wav`: `\d+)\.hea`} {
		if !bytes.Contains(text, []byte(old)) {
			t.Fatalf("the layout has no %s", old)
		}
		text = bytes.Replace(text, []byte(old), []byte(now), 1)
	}
	return config.Input{Data: src.Data, Layout: writeText(t, filepath.Join(t.TempDir(), "headers.yaml"), string(text))}
}

// sameRows compares a table of two runs, and leaves out what forget sets to zero.
func sameRows[T table.Row](t *testing.T, a, b string, forget func(*T)) {
	t.Helper()
	read := func(dir string) (rows []T, values []string) {
		parts, err := table.OpenParts[T](table.PartsOf[T](dir))
		if err != nil {
			t.Fatal(err)
		}
		for record, err := range parts.Rows() {
			if err != nil {
				t.Fatal(err)
			}
			forget(&record.Row)
			rows, values = append(rows, record.Row), append(values, fmt.Sprint(record.Values))
		}
		return rows, values
	}
	rows, values := read(a)
	others, otherValues := read(b)
	if diff := cmp.Diff(rows, others, cmpopts.EquateNaNs()); diff != "" || len(rows) == 0 {
		t.Errorf("%T: %d rows: %.2000s", *new(T), len(rows), diff)
	}
	if !slices.Equal(values, otherValues) {
		t.Errorf("%T: the dynamic columns differ", *new(T))
	}
}

// sameResults compares runs that read the same sound from WAV files and through
// headers. Their rows differ in what they say of the files alone.
func sameResults(t *testing.T, wav, headers string, signals int32) {
	t.Helper()
	of := map[string]string{}
	for i, row := range recordingsOf(t, wav) {
		other := recordingsOf(t, headers)[i]
		if row.AudioDigest == other.AudioDigest || row.Encoding != "16-bit PCM" || other.Encoding != "WFDB format 16" ||
			*row.Channels != 1 || *other.Channels != signals || strings.TrimSuffix(row.Audio, ".wav") != strings.TrimSuffix(other.Audio, ".hea") {
			t.Errorf("%+v\n%+v", row, other)
		}
		if of[other.AudioDigest] != "" {
			t.Errorf("%s and %s have one digest", other.Recording, of[other.AudioDigest])
		}
		of[other.AudioDigest] = other.Recording
	}
	sameRows(t, wav, headers, func(r *table.Recording) {
		r.Audio, r.AudioDigest, r.LabelsDigest, r.Encoding, r.Channels = "", "", "", "", nil
	})
	sameRows(t, wav, headers, func(*table.State) {})
	sameRows(t, wav, headers, func(*table.Cycle) {})
}

func TestRecordsReadThroughHeaders(t *testing.T) {
	src := atRest(t, 2)
	copied, names := copyAsCinc2016(t, src)
	for id, name := range names {
		folder := filepath.Join(copied.Data, "training-a")
		wav, err := os.ReadFile(filepath.Join(folder, name+".wav"))
		if err != nil {
			t.Fatal(err)
		}
		frames := (len(wav) - 44) / 2
		writeText(t, filepath.Join(folder, name+".hea"), fmt.Sprintf("%s 2 4000 %d\n%s.dat 80 100 8 0 0 0 0 ECG\n%s.wav 16+44 1 16 0 0 0 0 PCG\n", name, frames, name, name))
		writeText(t, filepath.Join(folder, name+".dat"), strings.Repeat("\x90", frames)+id)
	}
	wav, headers := configFor(t, copied), configFor(t, throughHeaders(t, copied))
	wav.Method, headers.Method = "duration-hmm", "duration-hmm"
	headers.Out = filepath.Join(t.TempDir(), "headers")
	run(t, wav)
	if r := run(t, headers); r.Counts.Done != 2 {
		t.Errorf("%+v", r.Counts)
	}
	sameResults(t, wav.Out, headers.Out, 2)

	// A signal file that the run does not read is an input too.
	ecg := filepath.Join(copied.Data, "training-a", "a0002.dat")
	if err := os.WriteFile(ecg, []byte("\x91"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Merge(context.Background(), headers.Out, config.Config{Inputs: headers.Inputs, Workers: 2}, nil); err == nil || !strings.Contains(err.Error(), "a0002.hea has changed") {
		t.Errorf("a changed signal file: %v", err)
	}
	if _, err := Merge(context.Background(), wav.Out, config.Config{Inputs: wav.Inputs, Workers: 2}, nil); err != nil {
		t.Error(err)
	}

	// What lasts longer than max-duration is excluded by its header.
	headers.Out, headers.MaxDuration = filepath.Join(t.TempDir(), "short"), config.Duration(7*time.Second)
	if _, err := Segment(context.Background(), headers, nil); err != nil {
		t.Fatal(err)
	}
	if row := recordingsOf(t, headers.Out)[0]; row.Outcome != table.Excluded || !strings.Contains(row.Reason, "lasts 8.000 s, more than the 7s of max-duration") {
		t.Errorf("%+v", row)
	}
}

// A model that has learnt from WAV files knows them behind headers.
func TestModelKnowsSignalFiles(t *testing.T) {
	src := village(t)
	c := configFor(t, src)
	c.Method = "logistic-hsmm"
	model := filepath.Join(t.TempDir(), "model.json")
	fit(t, c, train.Target{Model: model, Date: "2026-02-03"})
	copied, names := copyAsCinc2016(t, src)
	for _, name := range names {
		folder := filepath.Join(copied.Data, "training-a")
		writeText(t, filepath.Join(folder, name+".hea"), fmt.Sprintf("%s 1 4000\n%s.wav 16+44 1 16 0 0 0 0 PCG\n", name, name))
		writeText(t, filepath.Join(folder, name+"_StateAns.csv"), "1,S1\n201,systole\n")
	}
	c = configFor(t, throughHeaders(t, copied))
	c.Method, c.Model = "logistic-hsmm", model
	if _, err := Run(context.Background(), c, nil); err == nil || !strings.Contains(err.Error(), "by the audio of recording") {
		t.Error(err)
	}
}

// The tables of two real recordings of the CinC 2016 set do not depend on the way
// that their sound is read.
func TestRealRecordsThroughHeaders(t *testing.T) {
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "shared", "data")
	}
	copied := config.Input{Data: t.TempDir(), Layout: "cinc2016"}
	folder := filepath.Join(copied.Data, "training-a")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"a0001.hea", "a0001.wav", "a0001.dat", "a0009.hea", "a0009.wav", "a0009.dat"} {
		content, err := os.ReadFile(filepath.Join(root, "cinc2016", "training-a", name))
		if err != nil {
			t.Skipf("no recordings: %v (set PHONOCYCLE_DATA to the folder of the data sets)", err)
		}
		writeText(t, filepath.Join(folder, name), string(content))
	}
	wav, headers := configFor(t, copied), configFor(t, throughHeaders(t, copied))
	headers.Out = filepath.Join(t.TempDir(), "headers")
	wav.Reference, headers.Reference = "ecg", "ecg" // which is in the file that is the audio
	if r := run(t, wav); r.Summary.HeadlineRow.TP < 20 {
		t.Errorf("%+v", r.Summary.HeadlineRow)
	}
	run(t, headers)
	sameResults(t, wav.Out, headers.Out, 2)
}
