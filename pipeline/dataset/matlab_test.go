package dataset

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// matlabFile returns a check file of package matfile, which its script make.py
// wrote.
func matlabFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "matfile", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

const handCorrected = "annotations/hand_corrected/training-a_StateAns/a0001_StateAns."

// matlabSet opens layout cinc2016 with one recording of 40 s, whose annotation has
// the given extension and content.
func matlabSet(t *testing.T, extension string, content []byte) *Set {
	t.Helper()
	return openLayout(t, plant(t, map[string]string{
		"training-a/a0001.wav": "2000 40", "training-a/REFERENCE.csv": "a0001,1\n", handCorrected + extension: string(content),
	}), "cinc2016")
}

// TestMatlabStates reads state_ans as the script wrote it: at 2 kHz sample 1 is at
// 0 s, 245 at 122 ms, and so on; time between the marks of noise is not annotated,
// and the last row only ends the one before.
func TestMatlabStates(t *testing.T) {
	for _, name := range []string{"scipy_plain_nested.mat", "scipy_compressed_names.mat", "matlab_big_endian.mat", "matlab_compressed.mat"} {
		s := matlabSet(t, "mat", matlabFile(t, name))
		rec := &s.Recordings[0]
		ref, digest, err := s.Reference(rec, 2000, 40*second)
		if err != nil || rec.Reference != handCorrected+"mat" || ref.Kind != "starts" || ref.Repairs != nil {
			t.Fatalf("%s: %+v, %v", name, ref, err)
		}
		if got := spans(ref.Intervals); got != "S1 0-122, systole 122-500, S2 500-600, diastole 600-1101" {
			t.Errorf("%s: %s", name, got)
		}
		if want, err := s.FileDigest(rec.Reference); err != nil || digest != want || len(digest) != 64 {
			t.Errorf("%s: digest %s, want %s, %v", name, digest, want, err)
		}
	}
}

// TestMatlabIsReadAsText: the same rows give the same states and the same defects.
func TestMatlabIsReadAsText(t *testing.T) {
	text, matlab := matlabSet(t, "csv", matlabFile(t, "defects.csv")), matlabSet(t, "mat", matlabFile(t, "defects.mat"))
	ref, _, err := text.Reference(&text.Recordings[0], 2000, 40*second)
	if err != nil {
		t.Fatal(err)
	}
	fromMatlab, _, err := matlab.Reference(&matlab.Recordings[0], 2000, 40*second)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(ref.Intervals, fromMatlab.Intervals); diff != "" {
		t.Error(diff)
	}
	if got := spans(ref.Intervals); got != "S1 0-150, S2 150-450, diastole 450-750, S1 2000-2100, S2 2100-4500, diastole 4500-4900, S1 4900-6000" {
		t.Error(got)
	}
	want := strings.Split(strings.ReplaceAll(strings.Join([]string{
		"F, row 1: start -0.01 s is before the recording: moved to the start of the recording",
		"F, row 2: row of state \"Systole\" has no length at 0.15 s: row dropped",
		"F, row 3: S2 follows S1 of row 1 instead of systole: kept: each sound is scored on its own",
		"F, row 8: S2 follows S1 of row 7 instead of systole: kept: each sound is scored on its own",
	}, "\n"), "F", handCorrected+"mat"), "\n")
	if diff := cmp.Diff(want, fromMatlab.Repairs); diff != "" {
		t.Error(diff)
	}
	for i, r := range ref.Repairs {
		r = strings.ReplaceAll(strings.Replace(r, ".csv:", ".mat, row ", 1), " line ", " row ")
		if fromMatlab.Repairs[i] != r {
			t.Errorf("text: %s\nMATLAB: %s", r, fromMatlab.Repairs[i])
		}
	}
}

// TestMatlabDefects: what is wrong with a file costs the reference of its
// recording, with place and remedy.
func TestMatlabDefects(t *testing.T) {
	good := matlabFile(t, "scipy_compressed_nested.mat")
	other := matlabFile(t, "scipy_classes.mat")
	for _, c := range []struct {
		what     string
		content  []byte
		variable string
		want     string
	}{
		{"cut short", good[:300], "state_ans", ": damaged MATLAB file: it ends inside a variable: fetch the file again"},
		{"text", []byte(strings.Repeat("1,S1\n", 40)), "state_ans", ": not a MATLAB level 5 file: bytes 127 and 128 are neither IM nor MI: fetch the file again, or save it as version 7, in MATLAB with save(file, variable, '-v7')"},
		{"HDF5", []byte("MATLAB 7.3 MAT-file" + strings.Repeat(" ", 200)), "state_ans", ": a MATLAB file of another version: 7.3 (HDF5): save it as version 7, in MATLAB with save(file, variable, '-v7')"},
		{"other variables", other, "state_ans", `: no such variable: "state_ans": the file has "double", "single", "int8", "uint8", "int16" and 15 more`},
		{"numbers", other, "double", `: variable "double" has 2 x 3 elements of double: want a cell array of 2 columns: start, state`},
		{"no rows", other, "empty_cell", ": no annotated state"},
		{"a structure", other, "structure", ": variable \"structure\": class of array that is not read: a structure: save numbers, characters, or a cell array of these"},
		{"odd cells", matlabFile(t, "odd_cells.mat"), "two_numbers", ", row 2: start: want one number, or characters, in the cell"},
		{"odd cells", matlabFile(t, "odd_cells.mat"), "fraction", `, row 1: start "1.5": not a whole number of samples`},
		{"odd cells", matlabFile(t, "odd_cells.mat"), "not_a_number", `, row 2: start "NaN": not a number`},
		{"odd cells", matlabFile(t, "odd_cells.mat"), "unknown", `, row 1: state "S3" is none of the layout's codes`},
		{"odd cells", matlabFile(t, "odd_cells.mat"), "backwards", ", row 2: time 0.0005 s is before that of row 1, 0.002 s"},
	} {
		s := matlabSet(t, "mat", c.content)
		s.references.rule.Variable = c.variable
		_, _, err := s.Reference(&s.Recordings[0], 2000, 40*second)
		if want := "recording a0001: reference annotation unusable: " + handCorrected + "mat" + c.want; err == nil || err.Error() != want {
			t.Errorf("%s, %s: %v\nwant %s", c.what, c.variable, err, want)
		}
		if inv, err := s.Scan(t.Context(), fakeProbe, nil); err != nil || inv.Annotations != 1 || inv.Annotated != 0 || len(inv.Defects) < 1 {
			t.Errorf("%s: scan: %+v, %v", c.what, inv, err)
		}
	}
}

// TestMatlabRepairsAreCounted: a summary of repairs speaks of rows.
func TestMatlabRepairsAreCounted(t *testing.T) {
	p := repairer{file: "x.mat"}
	for i := range 8 {
		p.found(zeroLength, i+1, "S1", "0 s")
	}
	var ref pcg.Reference
	p.finish(&ref, "a")
	if want := `x.mat: 3 more of "row of zero length" in rows 6 to 8: row dropped`; len(ref.Repairs) != 6 || ref.Repairs[5] != want {
		t.Errorf("%q", ref.Repairs)
	}
}
