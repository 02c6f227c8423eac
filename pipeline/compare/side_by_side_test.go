package compare

import (
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// Recordings at given positions are read without the parts that do not hold them,
// whatever the size of the parts.
func TestSideBySideAtPositions(t *testing.T) {
	src := atRest(t, 9)
	a := segmented(t, src, "shannon-peaks", func(c *config.Config) { c.PartSize = 4 })
	b := segmented(t, src, "duration-hmm", nil)
	folders, err := Open([]string{a, b}, nil, "")
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for cases, err := range SideBySide(folders, nil) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, cases[0].Recording)
	}
	if len(all) != 9 {
		t.Fatalf("%d recordings, want 9", len(all))
	}
	if err := table.PartsOf[table.State](a).Remove(0); err != nil {
		t.Fatal(err)
	}
	var read []string
	for cases, err := range SideBySide(folders, map[int]bool{5: true, 8: true}) {
		if err != nil {
			t.Fatal(err)
		}
		read = append(read, cases[1].Recording)
	}
	if len(read) != 2 || read[0] != all[5] || read[1] != all[8] {
		t.Errorf("read %q, want %q and %q", read, all[5], all[8])
	}
}
