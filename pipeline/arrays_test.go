package pipeline

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// The NumPy files hold the rows of the table windows in their order, and are the same
// for any number of workers, after an interruption, and with --overwrite.
func TestWindowsAsArrays(t *testing.T) {
	src, states := village(t), villageRun(t)
	rules := config.WindowRules{Align: config.AlignFixed, Length: config.Duration(500 * time.Millisecond), Hop: config.Duration(time.Second), Format: config.FormatNumPy}
	c, report := cut(t, src, states, table.Predicted, rules, func(c *config.Config) { c.Workers = 1 })
	for _, name := range []string{"signal.npy", "state.npy", "index.csv"} {
		if !slices.Contains(report.Written, filepath.Join(c.Out, name)) {
			t.Errorf("the report does not name %s: %v", name, report.Written)
		}
	}
	r, err := table.OpenParts[table.Window](table.PartsOf[table.Window](c.Out))
	if err != nil {
		t.Fatal(err)
	}
	var signals, classes []byte
	index := [][]string{{"recording", "start_s"}}
	for record, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range record.Values.Vectors[0] {
			signals = binary.LittleEndian.AppendUint32(signals, math.Float32bits(x))
		}
		classes = append(classes, record.Values.Bytes[0]...)
		index = append(index, []string{record.Row.Recording, fmt.Sprint(table.Seconds(record.Row.Start))})
	}
	rows := len(index) - 1
	for name, want := range map[string]struct {
		values []byte
		descr  string
	}{"signal.npy": {signals, "<f4"}, "state.npy": {classes, "|u1"}} {
		got, err := os.ReadFile(filepath.Join(c.Out, name))
		if err != nil {
			t.Fatal(err)
		}
		header := fmt.Sprintf("{'descr': '%s', 'fortran_order': False, 'shape': (%d, 500), }", want.descr, rows)
		if rows == 0 || !bytes.Equal(got[128:], want.values) || !bytes.Contains(got[:128], []byte(header)) {
			t.Errorf("%s: %q and %d bytes, want %q and the %d of the table", name, got[:128], len(got)-128, header, len(want.values))
		}
	}
	content, err := os.ReadFile(filepath.Join(c.Out, "index.csv"))
	if err != nil {
		t.Fatal(err)
	}
	listed, err := csv.NewReader(strings.NewReader(string(content))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.Index(listed[0], "start_s")
	if len(listed) != len(index) {
		t.Fatalf("the index has %d rows, want %d", len(listed)-1, rows)
	}
	for i, row := range listed {
		if row[0] != index[i][0] || row[at] != index[i][1] {
			t.Fatalf("row %d of the index is %v, want %v", i, row, index[i])
		}
	}

	want := tablesOf(t, c.Out)
	if err := os.Remove(table.PartsOf[table.Window](c.Out).Path(1)); err != nil {
		t.Fatal(err)
	}
	cutAgain := func(what string, change func(*config.Config)) {
		_, _ = cut(t, src, states, table.Predicted, rules, func(again *config.Config) { again.Out = c.Out; change(again) })
		sameTables(t, what, want, tablesOf(t, c.Out))
	}
	cutAgain("resumed", func(c *config.Config) { c.Resume = true })
	cutAgain("over the same", func(c *config.Config) { c.Overwrite = true })
	other, _ := cut(t, src, states, table.Predicted, rules, func(c *config.Config) { c.Workers = 3 })
	sameTables(t, "three workers", want, tablesOf(t, other.Out))
}
