package compare

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval"
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

// featureTable writes recordings of two data sets, four per person, whose features
// the function draws.
func featureTable(t *testing.T, people int, seed uint64, draw func(set int, random *rand.Rand) (rr, level float64)) string {
	t.Helper()
	random := rand.New(rand.NewPCG(seed, 7))
	var rows []table.Record[table.Recording]
	for p := range people {
		set := p % 2
		rr, level := draw(set, random)
		for i := range 4 {
			rows = append(rows, table.Record[table.Recording]{
				Row: table.Recording{
					Recording: fmt.Sprintf("%03d_%d", p, i), DataSet: []string{"a", "b"}[set], Person: fmt.Sprintf("%03d", p), Audio: "x", Outcome: table.Done,
					Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN(),
				},
				Values: table.DynamicValues{Labels: []string{[]string{"Absent", "Present"}[p/2%2], ""}, Floats: []float64{rr, level}},
			})
		}
	}
	return writeRecordings(t, rows)
}

// Data sets are told apart by the level in which they differ, and so are the
// combinations of two properties; a recording without a value is left out.
func TestIdentifiabilityReadsFeaturesAndGroups(t *testing.T) {
	dir := featureTable(t, 60, 1, func(set int, random *rand.Rand) (float64, float64) {
		return random.NormFloat64(), -20 + 10*float64(set) + random.NormFloat64()
	})
	o := eval.DefaultIdentifiabilityOptions()
	o.Resamples = 50
	r, err := Identifiability(context.Background(), []string{dir}, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	if r.By != "data_set" || r.AUC.Value < 0.99 || r.People != 60 || r.Recordings != 240 || r.Top[0].Name != "raw_rms_db" {
		t.Errorf("%+v", r)
	}
	o.By = eval.Grouping{eval.ByDataSet, "murmur"}
	if r, err = Identifiability(context.Background(), []string{dir}, o, nil); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, c := range r.Classes {
		names = append(names, c.Name)
	}
	if got := strings.Join(names, "; "); got != "a, Absent; a, Present; b, Absent; b, Present" {
		t.Errorf("groups %s", got)
	}
}

func TestIdentifiabilityErrors(t *testing.T) {
	dir := featureTable(t, 20, 1, func(int, *rand.Rand) (float64, float64) { return 1, 2 })
	for _, tt := range []struct {
		dirs []string
		by   string
		want string
	}{
		{nil, "data_set", "--tables"},
		{[]string{t.TempDir()}, "data_set", "part files"},
		{[]string{dir}, "murmurs", "data_set, person, site, heart_rate, reference, murmur"},
		{[]string{dir}, "age_group", "nothing to tell apart"},
	} {
		o := eval.DefaultIdentifiabilityOptions()
		o.By = eval.Grouping{tt.by}
		if _, err := Identifiability(context.Background(), tt.dirs, o, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v: %v, want an error with %q", tt.dirs, err, tt.want)
		}
	}
}
