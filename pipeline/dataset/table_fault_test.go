package dataset

import (
	"maps"
	"strings"
	"testing"
	"unicode/utf16"
)

// utf16Text writes a text as UTF-16 with a byte-order mark.
func utf16Text(text string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(text)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

// A table by which people are told apart has one fault at most, with file, line,
// cause and the number of recordings without a row.
func TestTableFaults(t *testing.T) {
	table := circorHeader + circorRow("9983", "98.0", "Absent", "nan", "14998.0") + circorRow("14998", "90", "Present", "AV", "9983") +
		circorRow("20000", "90", "Present", "AV", "nan")
	const name = "training_data.csv"
	for _, tt := range []struct {
		what, table string
		want        []string
	}{
		{"UTF-16", utf16Text(table), []string{name + ":1: the text is UTF-16: save the file as UTF-8", "3 of 3 recordings have no row"}},
		{"UTF-16 without a mark", utf16Text(table)[2:], []string{name + ":1: holds a zero byte", "save the file as UTF-8", "3 of 3"}},
		{"semicolons", strings.ReplaceAll(table, ",", ";"), []string{name + ":1: ", `no column "Patient ID": the columns seem to be separated by semicolons`, "delimiter: semicolon", "3 of 3"}},
		{"tabs", strings.ReplaceAll(table, ",", "\t"), []string{"separated by tabs", "3 of 3"}},
		{"a stray quote", strings.Replace(table, "9983,AV", `9983,"AV`, 1), []string{name + ":2: a quote that is not closed on its line", "3 of 3"}},
		{"a quoted line break", strings.Replace(table, "14998,AV,Child", "14998,AV,\"Chi\nld\"", 1), []string{name + ":3: a quote that is not closed on its line", "2 of 3"}},
		{"cut in half", table[:len(circorHeader)+len(circorRow("9983", "98.0", "Absent", "nan", "14998.0"))+20], []string{name + ":3: ", "columns instead of", "2 of 3"}},
		{"another key", strings.Replace(table, "Patient ID", "Patient", 1), []string{name + `:1: no column "Patient ID"`, "3 of 3"}},
		{"another name of the second id", strings.Replace(table, "Additional ID", "Additional", 1), []string{name + `:1: no column "Additional ID"`, "people cannot be told apart"}},
		{"rows missing", circorHeader + circorRow("9983", "98.0", "Absent", "nan", "nan"), []string{name + ": no row for recording 14998_MV", "2 of 3"}},
		{"missing", "", []string{name + ": the table does not exist", "3 of 3"}},
	} {
		files := map[string]string{
			name:                         tt.table,
			"training_data/9983_AV.wav":  "4000 10",
			"training_data/14998_MV.wav": "4000 10",
			"training_data/20000_TV.wav": "4000 10",
		}
		if tt.table == "" {
			maps.DeleteFunc(files, func(path, _ string) bool { return path == name })
		}
		faults := openLayout(t, plant(t, files), "circor").TableFaults
		if len(faults) != 1 || !faults[0].People {
			t.Errorf("%s: faults %+v, want one by which people cannot be told apart", tt.what, faults)
			continue
		}
		for _, want := range tt.want {
			if text := faults[0].String(); !strings.Contains(text, want) {
				t.Errorf("%s: %q, want %q", tt.what, text, want)
			}
		}
	}
}

// A table that is as it should be has no fault, and neither has an optional one
// that is absent. A column of labels that is missing is one, but people are told
// apart.
func TestTablesWithoutFaults(t *testing.T) {
	row := circorRow("9983", "98.0", "Absent", "nan", "nan")
	for _, tt := range []struct {
		what, layout string
		files        map[string]string
		faults       int
		people       bool
	}{
		{"whole", "circor", map[string]string{"training_data.csv": circorHeader + row, "training_data/9983_AV.wav": "4000 10"}, 0, false},
		{"optional", "plain", map[string]string{"a.wav": "4000 10"}, 0, false},
		{"optional, without people", "plain", map[string]string{"a.wav": "4000 10", "recordings.csv": "recording,label\na,x\n"}, 0, false},
		{"optional, people misspelt", "plain", map[string]string{"a.wav": "4000 10", "recordings.csv": "recording,persn\na,x\n"}, 1, true},
		{"optional, a recording without row", "plain", map[string]string{"a.wav": "4000 10", "b.wav": "4000 10", "recordings.csv": "recording,person\na,x\n"}, 1, true},
		{"labels without people, absent", "cinc2016", map[string]string{"training-a/a0001.wav": "4000 10"}, 1, false},
		{"a label missing", "circor", map[string]string{
			"training_data.csv": strings.Replace(circorHeader, "Campaign", "Year", 1) + row, "training_data/9983_AV.wav": "4000 10",
		}, 1, false},
	} {
		faults := openLayout(t, plant(t, tt.files), tt.layout).TableFaults
		if len(faults) != tt.faults || len(faults) == 1 && faults[0].People != tt.people {
			t.Errorf("%s: faults %+v, want %d, people %v", tt.what, faults, tt.faults, tt.people)
		}
	}
}
