package pipeline

import (
	"context"
	"io/fs"
	"maps"
	"math"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"phonocycle/configs"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/scoring"
	"phonocycle/pipeline/table"
)

// writeRecordings writes rows as a recordings table of two features and two
// labels, in three parts.
func writeRecordings(t *testing.T, rows []table.Record[table.Recording]) string {
	t.Helper()
	dir := t.TempDir()
	parts := table.PartsOf[table.Recording](dir)
	if err := parts.Make(); err != nil {
		t.Fatal(err)
	}
	columns := []table.Column{
		{Name: "murmur", Kind: table.Category}, {Name: "age_group", Kind: table.Category},
		{Name: "rr_interval_s_mean", Unit: "s", Doc: "mean of RR", Null: "no cycle"}, {Name: "raw_rms_db", Unit: "dB", Doc: "level"},
	}
	part := 0
	for some := range slices.Chunk(rows, (len(rows)+2)/3) {
		w, err := table.Create[table.Recording](parts.Path(part), columns, table.Metadata{Tool: "test", Config: "c"})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range some {
			if err := w.Append(r.Row, r.Values); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Commit(); err != nil {
			t.Fatal(err)
		}
		part++
	}
	return dir
}

func TestPeople(t *testing.T) {
	nan := math.NaN()
	recording := func(id, set, person, site, outcome string, murmur, age string, rr, level float64) table.Record[table.Recording] {
		return table.Record[table.Recording]{
			Row: table.Recording{
				Recording: id, DataSet: set, Person: person, Site: site, Take: 1, Audio: id + ".wav", Outcome: outcome,
				Method: "duration-hmm", SegmentationSource: table.Predicted, Fold: ptr(int32(2)), Confidence: nan, ExchangeProbability: nan, HeartRate: nan,
			},
			Values: table.DynamicValues{Labels: []string{murmur, age}, Floats: []float64{rr, level}},
		}
	}
	rows := []table.Record[table.Recording]{
		recording("1_AV", "a", "1", "AV", table.Done, "Present", "Child", 0.5, -20),
		recording("1_MV", "a", "1", "MV", table.Done, "", "Child", 0.75, nan),
		recording("1_PV", "a", "1", "PV", table.Failed, "Present", "Infant", nan, nan),
		recording("2_AV", "a", "2", "", table.Failed, "Absent", "", nan, nan),
		recording("3_AV", "b", "1", "AV", table.Done, "Absent", "Child", nan, -1),
		recording("4_AV", "a", "1", "AV", table.Done, "Present", "Adult", 1, -10),
	}
	dir := writeRecordings(t, rows)
	varying, err := writePeople(dir, table.Metadata{Tool: "test", Config: "c"})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(map[string]int{"age_group": 1}, varying); diff != "" {
		t.Error(diff)
	}
	r, err := table.OpenParts[table.Person](table.PartsOf[table.Person](dir))
	if err != nil {
		t.Fatal(err)
	}
	if c := r.Columns()[2]; !strings.Contains(c.Doc, "mean over") || !strings.Contains(c.Doc, "mean of RR") || c.Unit != "s" {
		t.Errorf("column %+v", c)
	}
	person := func(set, name string, recordings, measured int32, sites, varying string) table.Person {
		p := table.Person{Person: name, DataSet: set, Recordings: recordings, Measured: measured, Sites: sites, VaryingLabels: varying, Fold: ptr(int32(2))}
		if measured > 0 {
			p.Method, p.SegmentationSource = "duration-hmm", table.Predicted
		}
		return p
	}
	want := []table.Record[table.Person]{
		{Row: person("a", "1", 4, 3, "AV+MV", "age_group"), Values: table.DynamicValues{Labels: []string{"Present", ""}, Floats: []float64{0.75, -15}}},
		{Row: person("a", "2", 1, 0, "", ""), Values: table.DynamicValues{Labels: []string{"Absent", ""}, Floats: []float64{nan, nan}}},
		{Row: person("b", "1", 1, 1, "AV", ""), Values: table.DynamicValues{Labels: []string{"Absent", "Child"}, Floats: []float64{nan, -1}}},
	}
	var got []table.Record[table.Person]
	for record, err := range r.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		record.Values = record.Values.Clone()
		got = append(got, record)
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
	// The same people one after another, and part by part.
	other := t.TempDir()
	if again, err := sumUp(t, dir, other, rows).finish(); err != nil || !maps.Equal(again, varying) {
		t.Errorf("summed up as they come: %v, %v; want %v", again, err, varying)
	}
	people := table.Person{}.Table().Name
	sameTables(t, "summed up as they come", tablesOf(t, filepath.Join(dir, people)), tablesOf(t, filepath.Join(other, people)))
}

// sumUp sums rows, whose table is below dir, up as they come and writes the table
// of people below out.
func sumUp(t *testing.T, dir, out string, rows []table.Record[table.Recording]) *peopleSums {
	t.Helper()
	r, err := table.OpenParts[table.Recording](table.PartsOf[table.Recording](dir))
	if err != nil {
		t.Fatal(err)
	}
	entries := make([]corpus.Entry, len(rows))
	for i := range rows {
		row := &rows[i].Row
		entries[i] = corpus.Entry{Recording: &pcg.Recording{DataSet: row.DataSet}, Person: row.Person}
	}
	people, recordings := peopleOf(entries)
	sums := newPeopleSums(out, r.Columns(), table.Metadata{Tool: "test", Config: "c"}, people, recordings)
	for i := range rows {
		if err := sums.add(&rows[i].Row, rows[i].Values); err != nil {
			t.Fatal(err)
		}
	}
	return sums
}

// More people than a part holds go into several parts, in order, each once.
func TestPeopleInParts(t *testing.T) {
	const n = 2*peopleInPart + 1
	rows := make([]table.Record[table.Recording], n)
	for i := range rows {
		// Neighbours are far apart in the order of names.
		id := string(rune('a'+i%26)) + strings.Repeat("x", i/26)
		rows[i].Row = table.Recording{Recording: id, DataSet: "a", Person: id, Audio: id, Outcome: table.Excluded,
			Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN()}
		rows[i].Values = table.DynamicValues{Labels: []string{"", ""}, Floats: []float64{math.NaN(), math.NaN()}}
	}
	dir := writeRecordings(t, rows)
	if _, err := writePeople(dir, table.Metadata{Tool: "test", Config: "c"}); err != nil {
		t.Fatal(err)
	}
	parts, err := table.PartsOf[table.Person](dir).List()
	if err != nil || len(parts) != 3 {
		t.Errorf("parts %v, %v", parts, err)
	}
	var names []string
	for p, err := range table.ReadParts[table.Person](table.PartsOf[table.Person](dir)) {
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, p.Person)
	}
	if !slices.IsSorted(names) || len(slices.Compact(names)) != n {
		t.Errorf("%d names, sorted %v", len(names), slices.IsSorted(names))
	}

	// With neighbours far apart more people wait than a part holds, in order none.
	if sums := sumUp(t, dir, t.TempDir(), rows); !sums.tooMany || sums.waiting != nil {
		t.Error("the sums of more people than a part holds are kept")
	}
	slices.SortFunc(rows, func(a, b table.Record[table.Recording]) int { return strings.Compare(a.Row.Person, b.Row.Person) })
	other := t.TempDir()
	sums := sumUp(t, dir, other, rows)
	if _, err := sums.finish(); err != nil || sums.tooMany {
		t.Errorf("people in order: too many %v, %v", sums.tooMany, err)
	}
	people := table.Person{}.Table().Name
	sameTables(t, "in order", tablesOf(t, filepath.Join(dir, people)), tablesOf(t, filepath.Join(other, people)))

}

// The tables of a run carry the labels of the data set and say what segmented
// each row.
func TestTablesForLearning(t *testing.T) {
	c := configFor(t, village(t))
	c.Out = villageRun(t)
	cycles, err := table.OpenParts[table.Cycle](table.PartsOf[table.Cycle](c.Out))
	if err != nil {
		t.Fatal(err)
	}
	condition := slices.Index(scoring.LabelNames(cycles.Columns()), "condition")
	if condition < 0 {
		t.Fatalf("no label condition among %v", scoring.LabelNames(cycles.Columns()))
	}
	for record, err := range cycles.Rows() {
		if err != nil {
			t.Fatal(err)
		}
		row := record.Row
		if row.DataSet == "" || row.Method != c.Method || row.Origin != table.Predicted || record.Values.Labels[condition] == "" {
			t.Fatalf("cycle %d of %s: %+v, condition %q", row.Index, row.Recording, row, record.Values.Labels[condition])
		}
	}
	extracted := c
	extracted.Out = t.TempDir()
	if _, err := Extract(context.Background(), extracted, c.Out, table.Reference, nil); err != nil {
		t.Fatal(err)
	}
	for p, err := range table.ReadParts[table.Person](table.PartsOf[table.Person](extracted.Out)) {
		if err != nil {
			t.Fatal(err)
		}
		if p.Measured > 0 && (p.SegmentationSource != table.Reference || p.Method != "") {
			t.Errorf("person %s: %+v, want the reference and no method", p.Person, p)
		}
	}
}

// No label of an embedded layout has the name of a column that tables have
// anyway.
func TestLabelsAreNoOtherColumns(t *testing.T) {
	taken := map[string]bool{}
	for _, row := range []any{table.Recording{}, table.Cycle{}, table.Person{}} {
		for i := range reflect.TypeOf(row).NumField() {
			name, _, _ := strings.Cut(reflect.TypeOf(row).Field(i).Tag.Get("table"), ",")
			taken[name] = true
		}
	}
	files, err := fs.Glob(configs.FS, "layouts/*.yaml")
	if err != nil || len(files) < 4 {
		t.Fatalf("layouts %v, %v", files, err)
	}
	for _, file := range files {
		layout, err := dataset.LoadLayout(strings.TrimSuffix(path.Base(file), ".yaml"))
		if err != nil {
			t.Fatal(err)
		}
		labels := slices.Clone(layout.Recording.Labels)
		for _, rows := range layout.Tables {
			for _, l := range rows.Labels {
				labels = append(labels, l.Name)
			}
		}
		for _, l := range labels {
			if taken[l] {
				t.Errorf("%s: label %s is also a column of the tables", file, l)
			}
		}
	}
}

func ptr[T any](v T) *T { return &v }

// One warning names all labels that differ between recordings of a person, but
// for those that belong to a recording.
func TestVaryingLabelsInOneLine(t *testing.T) {
	varying := map[string]int{"position": 90, "age": 5, "campaign": 15}
	want := "labels that differ between the recordings of some people (how many) are null for them in the table people: age (5), campaign (15)"
	if got := varyingWarning(varying, []string{"position"}); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := varyingWarning(varying, []string{"age", "campaign", "position"}); got != "" {
		t.Errorf("%q of labels that may differ", got)
	}
}
