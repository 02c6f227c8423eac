package dataset

import (
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// withStates is a layout with the states of each recording, to which a test adds
// other references.
const withStates = `name: two
title: Two references
version: "1"
citation: none
licence: none
source: none
audio:
  include: ["*.wav"]
recording:
  patterns: ['(?P<id>\w+)\.wav']
references:
  - name: states
    kind: intervals
    paths: ["{id}.tsv"]
    optional: true
    header: absent
    columns: {start: 1, end: 2, state: 3}
    unit: seconds
    states: {1: S1, 2: systole, 3: S2, 4: diastole}
`

// twoReferences is a data set whose layout describes states and beats.
const twoReferences = withStates + `  - name: beats
    kind: points
    paths: ["{id}.beats.csv"]
    header: absent
    columns: {time: 1, state: 2}
    unit: samples
    states: {1: S1, 2: S2}
`

func TestReferenceIsChosenByName(t *testing.T) {
	l, err := ParseLayout("two.yaml", []byte(twoReferences))
	if err != nil {
		t.Fatal(err)
	}
	root := plant(t, map[string]string{
		"a.wav": "1000 5", "a.tsv": "1\t1.1\t1\n1.1\t1.3\t2\n", "a.beats.csv": "1000,1\n1300,2\n",
		"b.wav": "1000 5", "b.tsv": "1\t1.1\t1\n1.1\t1.3\t2\n",
	})
	for _, tt := range []struct {
		name, chosen string
		paths        [2]string // of a and b
		kind         pcg.ReferenceKind
		missing      int // defects "annotation missing"
	}{
		{"", "states", [2]string{"a.tsv", "b.tsv"}, pcg.IntervalReference, 0},
		{"states", "states", [2]string{"a.tsv", "b.tsv"}, pcg.IntervalReference, 0},
		{"beats", "beats", [2]string{"a.beats.csv", ""}, pcg.PointReference, 1},
	} {
		s, err := OpenWith(root, l, Options{Reference: tt.name})
		if err != nil {
			t.Fatal(err)
		}
		if s.ReferenceName != tt.chosen || s.Recordings[0].Reference != tt.paths[0] || s.Recordings[1].Reference != tt.paths[1] {
			t.Errorf("%q: reference %s, files %q and %q", tt.name, s.ReferenceName, s.Recordings[0].Reference, s.Recordings[1].Reference)
		}
		if ref, _, err := s.Reference(&s.Recordings[0], 1000, 5*time.Second); err != nil || ref.Kind != tt.kind {
			t.Errorf("%q: kind %q, want %q: %v", tt.name, ref.Kind, tt.kind, err)
		}
		if len(s.Defects) != tt.missing {
			t.Errorf("%q: defects %v, want %d", tt.name, s.Defects, tt.missing)
		}
		inv, err := s.Scan(t.Context(), fakeProbe, nil)
		if err != nil || inv.Reference != tt.chosen || strings.Join(inv.References, " ") != "states beats" || inv.Kind != tt.kind {
			t.Errorf("%q: scan has %q of %q, kind %q: %v", tt.name, inv.Reference, inv.References, inv.Kind, err)
		}
		s.Close()
	}
	if _, err := OpenWith(root, l, Options{Reference: "ecg"}); err == nil || !strings.Contains(err.Error(), `layout two: no reference "ecg": it has states, beats`) {
		t.Errorf("unknown name: %v", err)
	}
	l.References = nil
	if _, err := OpenWith(root, l, Options{Reference: "ecg"}); err == nil || !strings.Contains(err.Error(), "describes none") {
		t.Errorf("a layout without references: %v", err)
	}
	if s, err := Open(root, l); err != nil || s.ReferenceName != "" || s.Recordings[0].Reference != "" {
		t.Errorf("a layout without references, none asked for: %v", err)
	}
}
