package features

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"
)

func TestCatalogueIsComplete(t *testing.T) {
	name := regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)
	seen := map[string]bool{}
	for _, f := range Catalogue() {
		if !name.MatchString(f.Name) {
			t.Errorf("%s: not in snake case", f.Name)
		}
		if seen[f.Name] {
			t.Errorf("%s: occurs twice", f.Name)
		}
		seen[f.Name] = true
		for what, s := range map[string]string{
			"level": string(f.Level), "unit": f.Unit, "definition": f.Definition,
			"source": f.Source, "range": f.Range, "null": f.Null, "scaling": string(f.Scaling),
		} {
			if s == "" || strings.ContainsAny(s, "\n\r\t") {
				t.Errorf("%s: %s is %q, want one line", f.Name, what, s)
			}
		}
		if (f.Level == OfCycle) != (f.ofCycle != nil) {
			t.Errorf("%s: level %s does not fit its function", f.Name, f.Level)
		}
		if f.ofCycle != nil && f.Statistics&MeanSD != MeanSD {
			t.Errorf("%s: no mean and SD over cycles", f.Name)
		}
	}
}

// The name of a feature ends in its unit; that of a statistic over cycles says
// which after it.
func TestNamesCarryUnits(t *testing.T) {
	ends := map[string]string{
		"1": "", "s": "_s", "Hz": "_hz", "FS": "_fs", "%": "_percent", "dB": "_db",
		"dB/octave": "_db_per_octave", "1/min": "_per_min", "1/s": "_per_s",
	}
	for _, f := range Catalogue() {
		name := f.Name
		if f.ofCycle == nil && f.ofRecording == nil {
			name = name[:strings.LastIndex(name, "_")]
		}
		end, ok := ends[f.Unit]
		if !ok || !strings.HasSuffix(name, end) {
			t.Errorf("%s: unit %s: want a name in %s", f.Name, f.Unit, end)
		}
		for unit, other := range ends {
			// A band in the name of a share has its unit inside.
			if unit != f.Unit && other != "" && strings.HasSuffix(name, other) && !strings.HasSuffix(end, other) {
				t.Errorf("%s: unit %s, and a name in %s", f.Name, f.Unit, other)
			}
		}
	}
}

// The Markdown has one row a feature that is no statistic over cycles, and the
// JSON one object a column.
func TestDictionary(t *testing.T) {
	var md, js bytes.Buffer
	if err := WriteMarkdown(&md); err != nil {
		t.Fatal(err)
	}
	if err := WriteJSON(&js, Catalogue()); err != nil {
		t.Fatal(err)
	}
	var rows []struct {
		Name, Definition, Null string
		Tables                 []string
	}
	if err := json.Unmarshal(js.Bytes(), &rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) != len(Catalogue()) {
		t.Fatalf("%d JSON rows for %d features", len(rows), len(Catalogue()))
	}
	lines := map[string]string{}
	for line := range strings.Lines(md.String()) {
		if name, _, ok := strings.Cut(strings.TrimPrefix(line, "| `"), "` |"); ok && strings.HasPrefix(line, "| `") {
			lines[name] = line
		}
	}
	cells := regexp.MustCompile(`[^\\]\|`)
	for i, f := range Catalogue() {
		if rows[i].Name != f.Name || rows[i].Definition != f.Definition || rows[i].Null != f.Null || len(rows[i].Tables) == 0 {
			t.Errorf("JSON row %d is %v, want %s", i, rows[i], f.Name)
		}
		want := 7
		switch {
		case f.ofCycle != nil:
			want = 8
		case f.ofRecording == nil: // a statistic over cycles
			base := f.Name[:strings.LastIndex(f.Name, "_")]
			if line := lines[base]; !strings.Contains(line, f.Name[len(base)+1:]) {
				t.Errorf("%s: the row of %s does not name the statistic: %s", f.Name, base, line)
			}
			continue
		}
		if line := lines[f.Name]; len(cells.FindAllString(line, -1)) != want {
			t.Errorf("Markdown row of %s: %q", f.Name, line)
		}
	}
}

// The copy in the documentation is what the command prints.
func TestDictionaryIsUpToDate(t *testing.T) {
	var want bytes.Buffer
	if err := WriteMarkdown(&want); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("DICTIONARY.md")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want.Bytes()) {
		t.Error("DICTIONARY.md is not what the catalogue says: write it anew with go run ./cmd/phonocycle dictionary > features/DICTIONARY.md")
	}
}
