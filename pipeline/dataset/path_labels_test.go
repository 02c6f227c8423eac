package dataset

import (
	"strings"
	"testing"
)

const coded = `name: coded
title: Labels in file names
version: "1"
citation: none
licence: none
source: none
audio:
  include: ["*.wav"]
recording:
  patterns: ['(?P<id>(?P<condition>[A-Z]+)_(?P<age>\w+)_\d+)\.wav']
  labels: [condition, age]
  codes:
    condition: {N: normal, AS: aortic stenosis}
  types: {age: number}
`

// A text in the path means what its code says, or is a defect.
func TestLabelsInPaths(t *testing.T) {
	root := plant(t, map[string]string{"coded.yaml": coded, "N_7_1.wav": "4000 10", "AS_x_2.wav": "4000 10", "MR_8_3.wav": "", "odd.wav": "4000 10"})
	s := openLayout(t, root, root+"/coded.yaml")
	want := map[string][2]string{"N_7_1": {"normal", "7"}, "AS_x_2": {"aortic stenosis", ""}, "MR_8_3": {"", "8"}}
	for i := range s.Recordings {
		r := &s.Recordings[i]
		if got := [2]string{r.Label("condition"), r.Label("age")}; got != want[r.ID] {
			t.Errorf("%s: %v, want %v", r.ID, got, want[r.ID])
		}
	}
	if !s.Layout.IsNumber("age") || s.Layout.IsNumber("condition") || s.Layout.IsNumber("nothing") {
		t.Error("age alone is a number")
	}
	var texts []string
	for i := range s.Defects {
		texts = append(texts, s.Defects[i].String())
	}
	all := strings.Join(texts, "\n")
	for _, text := range []string{`AS_x_2.wav: label "age": "x" is not a number: label left empty`, `MR_8_3.wav: label "condition": "MR" is none of the layout's codes: label left empty`} {
		if !strings.Contains(all, text) {
			t.Errorf("no defect %s in\n%s", text, all)
		}
	}
}

func TestLabelsInPathsErrors(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{"types: {age: number}", "types: {age: numeric}", `coded.yaml:14:16: recording.types.age: "numeric": want text, number or any`},
		{"types: {age: number}", "types: {agee: number}", `recording.types.agee: "agee" is none of recording.labels: did you mean "age"?`},
		{"    condition: {", "    conditions: {", `recording.codes.conditions: "conditions" is none of recording.labels: did you mean "condition"?`},
	} {
		_, err := ParseLayout("coded.yaml", []byte(strings.Replace(coded, tt.old, tt.new, 1)))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %s", tt.new, err, tt.want)
		}
	}
}
