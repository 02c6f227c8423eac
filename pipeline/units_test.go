package pipeline

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/workers"
)

// writeStarts writes the true states of recordings as layout cinc2016 reads them,
// with numbers of samples that count at a rate in hertz.
func writeStarts(t *testing.T, src, copied config.Input, names map[string]string, rate float64) {
	t.Helper()
	for id, name := range names {
		file, err := os.Open(filepath.Join(src.Data, "recordings", id+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(file).ReadAll()
		file.Close()
		if err != nil || len(rows) < 10 {
			t.Fatal(len(rows), err)
		}
		var text strings.Builder
		for _, row := range rows[1:] {
			start, err := strconv.ParseFloat(row[0], 64)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&text, "%.0f,%s\n", 1+math.Round(start*rate), row[2])
		}
		writeText(t, filepath.Join(copied.Data, "training-a", name+"_StateAns.csv"), text.String())
	}
}

// Where the numbers of samples in references count at another rate than that of
// the recordings, scan and run say so.
func TestWrongUnitOfReferencesIsNoticed(t *testing.T) {
	const (
		early  = "data set cinc2016: the reference of 6 of 6 recordings ends before 55 % of the recording: check unit and base of the reference in the layout"
		rate   = "data set cinc2016: the heart rate of the reference is "
		remedy = "recordings: check unit and base of the reference in the layout, and whether the recordings have the sampling rate that its numbers of samples count at"
	)
	src := atRest(t, 6)
	copied, names := copyAsCinc2016(t, src)
	for _, tt := range []struct {
		countsAt  float64 // in hertz; the recordings have 4000
		scan, run []string
	}{
		{4000, nil, nil},
		{2000, []string{early, rate + "double that of the sound in 6 of 6 " + remedy}, []string{early, rate + "double that of the prediction in 6 of 6 " + remedy}},
		{8000, []string{rate + "half that of the sound in 6 of 6 " + remedy}, []string{rate + "half that of the prediction in "}},
	} {
		writeStarts(t, src, copied, names, tt.countsAt)
		c := configFor(t, copied)
		c.Method = "duration-hmm"
		data, err := corpus.Open(c.Inputs, corpus.Options{})
		if err != nil {
			t.Fatal(err)
		}
		inventories, err := data.Scan(context.Background(), 0, workers.Silent{})
		data.Close()
		if err != nil {
			t.Fatal(err)
		}
		checkUnitWarnings(t, fmt.Sprintf("scan at %g Hz", tt.countsAt), inventories[0].Warnings, tt.scan)
		checkUnitWarnings(t, fmt.Sprintf("run at %g Hz", tt.countsAt), run(t, c).Summary.Warnings, tt.run)
	}
}

// checkUnitWarnings makes sure that the warnings about units begin as wanted.
func checkUnitWarnings(t *testing.T, what string, warnings, want []string) {
	t.Helper()
	got := slices.DeleteFunc(slices.Clone(warnings), func(w string) bool { return !strings.Contains(w, "unit and base of the reference") })
	if len(got) != len(want) {
		t.Errorf("%s: %q, want %q", what, got, want)
		return
	}
	for i := range got {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("%s: %s\nwant %s", what, got[i], want[i])
		}
	}
}

// The references of the open data sets raise no warning.
func TestUnitsOfOpenDataSets(t *testing.T) {
	root := os.Getenv("PHONOCYCLE_DATA")
	if root == "" {
		root = filepath.Join("..", "..", "shared", "data")
	}
	for _, name := range []string{"circor", "pascal"} {
		t.Run(name, func(t *testing.T) {
			folder := filepath.Join(root, name)
			if _, err := os.Stat(folder); err != nil {
				t.Skipf("no recordings: %v (set PHONOCYCLE_DATA to the folder of the data sets)", err)
			}
			data, err := corpus.Open([]config.Input{{Data: folder, Layout: name}}, corpus.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer data.Close()
			inventories, err := data.Scan(context.Background(), 0, workers.Silent{})
			if err != nil {
				t.Fatal(err)
			}
			checkUnitWarnings(t, name, inventories[0].Warnings, nil)
		})
	}
}
