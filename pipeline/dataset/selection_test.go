package dataset

import (
	"context"
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/pcg"
)

// What is said of a part of a data set is of that part: of its people, and of the
// defects of its recordings and of the tables. How much is not said stands there.
func TestSelect(t *testing.T) {
	s := openLayout(t, plant(t, map[string]string{
		"a.wav": "8000 5", "a.csv": "0.5,0.4,S1\n", "b.wav": "8000 5", "b.csv": "0.5,0.4,S1\n", "c.wav": "8000 5", "lost.csv": "1,2,S1\n",
		"recordings.csv": "recording,person\na,7\nnone,9\n",
	}), "plain")
	s.Select(func(r *pcg.Recording) bool { return r.ID != "b" })
	if len(s.Recordings) != 2 || s.PersonUnknown != 1 || s.NotSelected != 1 || !s.Lists("b") || !s.Lists("a") || s.Lists("d") {
		t.Errorf("%+v", s.Recordings)
	}
	inv, err := s.Scan(context.Background(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	if inv.Recordings != 2 || inv.Listed != 3 || inv.People != 2 || inv.Annotations != 1 {
		t.Errorf("%+v", inv)
	}
	got := places(inv.Defects)
	for _, want := range []string{"a.csv:1 end before start", "recordings.csv:3 row without recording", "lost.csv annotation without recording"} {
		if !slices.Contains(got, want) {
			t.Errorf("defects %q lack %s", got, want)
		}
	}
	for i := range inv.Defects {
		if inv.Defects[i].Recording == "b" {
			t.Errorf("defect of a recording that is not selected: %v", &inv.Defects[i])
		}
	}
	if want := "1 recording is not selected: audio and annotations were not read, and 1 defect of"; !strings.Contains(strings.Join(inv.Notes, "\n"), want) {
		t.Errorf("notes %q lack %q", inv.Notes, want)
	}
}
