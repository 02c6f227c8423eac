package table

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestParts(t *testing.T) {
	root := t.TempDir()
	p := PartsOf[State](root)
	if want := filepath.Join(root, "states"); p.Dir != want {
		t.Errorf("folder %s, want %s", p.Dir, want)
	}
	if want := filepath.Join(root, "states", "part-000007.parquet"); p.Path(7) != want {
		t.Errorf("part 7 is %s, want %s", p.Path(7), want)
	}

	// Before the folder exists.
	if parts, err := p.List(); len(parts) != 0 || err != nil {
		t.Errorf("no folder: parts %v, %v", parts, err)
	}
	if i, err := p.FirstMissing(4); i != 0 || err != nil {
		t.Errorf("no folder: first missing %d, %v", i, err)
	}
	if paths, err := p.RemoveTemporary(); len(paths) != 0 || err != nil {
		t.Errorf("no folder: temporary files %v, %v", paths, err)
	}

	for range 2 { // a folder that is there is no error
		if err := p.Make(); err != nil {
			t.Fatal(err)
		}
	}
	touch := func(names ...string) {
		for _, name := range names {
			if err := os.WriteFile(filepath.Join(p.Dir, name), nil, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	touch("part-000000.parquet", "part-000001.parquet", "part-000003.parquet", "part-1000000.parquet")
	touch("part-2.parquet", "part--00001.parquet", "part-0000002.parquet", "part-000002.parquet.bak", "notes.txt", "part-+00002.parquet")
	touch("part-000002.parquet.QWERTZUI.partial")
	if err := os.Mkdir(filepath.Join(p.Dir, "part-000009.parquet"), 0o755); err != nil {
		t.Fatal(err)
	}
	parts, err := p.List()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]int{0, 1, 3, 1000000}, parts); diff != "" {
		t.Error(diff)
	}
	for n, want := range map[int]int{0: 0, 1: 1, 2: 2, 3: 2, 9: 2} {
		if got, err := p.FirstMissing(n); got != want || err != nil {
			t.Errorf("first missing of %d: %d, %v; want %d", n, got, err, want)
		}
	}
	for i, want := range map[int]bool{0: true, 2: false, 3: true} {
		if got, err := p.Exists(i); got != want || err != nil {
			t.Errorf("part %d exists: %v, %v; want %v", i, got, err, want)
		}
	}
	want := []string{filepath.Join(p.Dir, "part-000002.parquet.QWERTZUI.partial")}
	got, err := p.RemoveTemporary()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if got, err := p.RemoveTemporary(); len(got) != 0 || err != nil {
		t.Errorf("temporary files %v, %v after they were removed", got, err)
	}
}

func TestPartsFolderIsFile(t *testing.T) {
	root := t.TempDir()
	if err := os.WriteFile(filepath.Join(root, "states"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	p := PartsOf[State](root)
	if err := p.Make(); err == nil || !strings.Contains(err.Error(), p.Dir) {
		t.Errorf("Make: %v", err)
	}
	if _, err := p.List(); err == nil {
		t.Error("List: no error")
	}
}

func TestReadParts(t *testing.T) {
	root := t.TempDir()
	p := PartsOf[Score](root)
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	firstError := func() error {
		for _, err := range ReadParts[Score](p) {
			if err != nil {
				return err
			}
		}
		return nil
	}
	if err := firstError(); err == nil || !strings.Contains(err.Error(), "no part files in "+p.Dir) {
		t.Errorf("empty folder: %v", err)
	}
	for i, names := range [][]string{{"a", "b"}, nil, {"c"}} {
		var rows []Record[Score]
		for _, name := range names {
			rows = append(rows, Record[Score]{Row: Score{Recording: name}})
		}
		write(t, p.Path(i), nil, rows)
	}
	var got []string
	for row, err := range ReadParts[Score](p) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, row.Recording)
	}
	if diff := cmp.Diff([]string{"a", "b", "c"}, got); diff != "" {
		t.Error(diff)
	}

	write(t, p.Path(3), []Column{{Name: "another"}}, []Record[Score]{{Values: DynamicValues{Floats: []float64{1}}}})
	if err := firstError(); err == nil || !strings.Contains(err.Error(), p.Path(3)) || !strings.Contains(err.Error(), "were both made by one run?") {
		t.Errorf("other columns: %v", err)
	}
	if err := os.Remove(p.Path(1)); err != nil {
		t.Fatal(err)
	}
	if err := firstError(); err == nil || !strings.Contains(err.Error(), p.Path(1)+" is missing; resume") {
		t.Errorf("missing part: %v", err)
	}
}

func TestRemoveParts(t *testing.T) {
	p := PartsOf[Score](t.TempDir())
	if err := p.Clear(); err != nil { // before the folder exists
		t.Error(err)
	}
	if err := p.Make(); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		write(t, p.Path(i), nil, []Record[Score]{{}})
	}
	for range 2 { // a part that is gone is no error
		if err := p.Remove(1); err != nil {
			t.Error(err)
		}
	}
	checkFiles(t, p.Dir, "part-000000.parquet", "part-000002.parquet")
	for _, name := range []string{"part-000001.parquet.QWERTZUI.partial", "notes.txt"} {
		if err := os.WriteFile(filepath.Join(p.Dir, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := p.Clear(); err != nil {
		t.Error(err)
	}
	checkFiles(t, p.Dir, "notes.txt")
}
