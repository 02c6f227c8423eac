package compare

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/rundir"
)

// Runs over two data sets stand in one table, each in the row of its method, with
// the scores that they have among themselves. Two runs of one method on one data set
// are refused unless they are named.
func TestAcross(t *testing.T) {
	here, there := atRest(t, 9), atRest(t, 5)
	peaks := segmented(t, here, "shannon-peaks", nil)
	hmm := segmented(t, here, "duration-hmm", nil)
	elsewhere := segmented(t, there, "shannon-peaks", nil)
	c := Comparison{Folders: []string{peaks, hmm}, Scoring: config.Scoring{Resamples: 20}, Workers: 2}
	compared, err := Run(context.Background(), c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Across(context.Background(), Comparison{Folders: []string{peaks, peaks}, Workers: 1}, nil); err == nil || !strings.Contains(err.Error(), "two runs of shannon-peaks on many states: give each a name of its own with --name") {
		t.Errorf("two runs in one cell: %v", err)
	}
	if err := asVersion(elsewhere, "2"); err != nil {
		t.Fatal(err)
	}
	c.Folders = []string{peaks, elsewhere, hmm}
	o, err := Across(context.Background(), c, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(o.Methods, []string{"shannon-peaks", "duration-hmm"}) || len(o.Columns) != 2 || o.Columns[0].Recordings != 9 || o.Columns[1].Recordings != 5 || o.Columns[1].Version != "2" {
		t.Fatalf("%v, %+v", o.Methods, o.Columns)
	}
	var got []string
	for _, cell := range o.Cells {
		got = append(got, cell.Name+" "+cell.Version)
	}
	if want := []string{"shannon-peaks " + o.Columns[0].Version, "duration-hmm " + o.Columns[0].Version, "shannon-peaks 2"}; !slices.Equal(got, want) {
		t.Errorf("cells %q, want %q", got, want)
	}
	for _, r := range compared.Runs {
		if !(r.Cost > 0) || r.DataSet != "many" || r.Version != o.Columns[0].Version {
			t.Errorf("%s costs %v on %s %s", r.Name, r.Cost, r.DataSet, r.Version)
		}
	}
	for _, s := range compared.Scores {
		if i := slices.IndexFunc(compared.Runs, func(r eval.ComparedRun) bool { return r.Name == s.Run }); s.Class == eval.Both && s.Aggregate == eval.Pooled && s.F1 != o.Cells[i].Score.F1 {
			t.Errorf("%s has F1 %v, compared %v", s.Run, o.Cells[i].Score.F1, s.F1)
		}
	}
}

// A run of changed audio says so in its name, also where it was named; the run to
// compare with is found by either name.
func TestNamesOfChangedAudio(t *testing.T) {
	if got := withCondition("mine", "noise at 10 dB") + withCondition(" plain", ""); got != "mine (noise at 10 dB) plain" {
		t.Errorf("names %q", got)
	}
	folders := []*Folder{{Name: "a"}, {Name: "mine (noise at 10 dB)"}}
	for _, against := range []string{"mine", "mine (noise at 10 dB)"} {
		c := Comparison{Names: []string{"a", "mine"}, Against: against}
		if got, err := c.against(folders); err != nil || got != "mine (noise at 10 dB)" {
			t.Errorf("against %s: %q, %v", against, got, err)
		}
	}
	c := Comparison{Against: "other"}
	if _, err := c.against(folders); !errors.Is(err, ErrUnknownRun) || !strings.Contains(err.Error(), "there are a, mine (noise at 10 dB)") {
		t.Errorf("against another: %v", err)
	}
}

// asVersion changes the version of the data set that an output folder is of.
func asVersion(dir, version string) error {
	plan, err := rundir.ReadPlan(dir)
	if err != nil {
		return err
	}
	plan.DataSets[0].Version = version
	if err := plan.Seal(); err != nil {
		return err
	}
	return plan.Write(dir, rundir.PlanFile)
}
