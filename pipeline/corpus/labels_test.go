package corpus

import (
	"slices"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// two returns a corpus of two data sets with labels of different words.
func two(t *testing.T) *Corpus {
	t.Helper()
	c, err := Open([]config.Input{
		{Layout: "circor", Data: writeFiles(t, map[string]string{
			"training_data.csv":      "Patient ID,Outcome,Murmur,Height\n7,Normal,Unknown,98.0\n8,Abnormal,Present,nan\n",
			"training_data/7_AV.wav": "", "training_data/8_AV.wav": "",
		})},
		{Layout: "cinc2016", Data: writeFiles(t, map[string]string{
			"training-a/REFERENCE.csv": "a0001,1\na0002,-1\n", "training-a/a0001.wav": "", "training-a/a0002.wav": "",
		})},
	}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(c.Close)
	return c
}

func fromOutcome(codes map[string]string) config.LabelSource {
	return config.LabelSource{DataSet: "circor", Label: "clinical_outcome", Codes: codes}
}

var fromLabel = config.LabelSource{DataSet: "cinc2016", Label: "label"}

// A common label has the values of both data sets, and their own stay as they are; what
// a layout calls a number is written as one.
func TestCommonLabels(t *testing.T) {
	c := two(t)
	err := c.AddLabels([]config.CommonLabel{
		{Name: "verdict", From: []config.LabelSource{fromOutcome(map[string]string{"Normal": "normal", "Abnormal": "abnormal"}), fromLabel}},
		{Name: "loud", From: []config.LabelSource{{DataSet: "circor", Label: "murmur", Codes: map[string]string{"Present": "yes", "Unknown": ""}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	columns := c.LabelColumns()
	at := func(name string) int {
		return slices.IndexFunc(columns, func(c table.Column) bool { return c.Name == name })
	}
	if doc := columns[at("verdict")].Doc; doc != `common label of the run configuration: clinical_outcome of circor (Abnormal is "abnormal", Normal is "normal"); label of cinc2016` {
		t.Error(doc)
	}
	if !columns[at("height_cm")].Number || columns[at("murmur")].Number || columns[at("verdict")].Number {
		t.Error("the height alone is a number")
	}
	want := map[string]string{
		"cinc2016/a0001": "abnormal|||", "cinc2016/a0002": "normal|||", "circor/7_AV": "normal||98|Normal", "circor/8_AV": "abnormal|yes||Abnormal",
	}
	for i := range c.Entries {
		e := &c.Entries[i]
		values := c.Labels(e, columns)
		got := strings.Join([]string{values[at("verdict")], values[at("loud")], values[at("height_cm")], values[at("clinical_outcome")]}, "|")
		if got != want[e.ID] {
			t.Errorf("%s: %s, want %s", e.ID, got, want[e.ID])
		}
	}
	if !c.IsRecordingLabel("verdict") || c.IsRecordingLabel("loud") {
		t.Error("the verdict is of the recording in one data set, the murmur of the person")
	}
}

func TestCommonLabelErrors(t *testing.T) {
	c := two(t)
	for _, tt := range []struct {
		name string
		from config.LabelSource
		want string
	}{
		{"label", fromOutcome(nil), "common label label: a data set has a label of this name (label of the data set: column 2 of {dir}/REFERENCE.csv): choose another name"},
		{"verdict", fromOutcome(map[string]string{"Normal": "normal"}), `codes of clinical_outcome in circor lack "Abnormal": write what each means, or "" for nothing`},
		{"verdict", config.LabelSource{DataSet: "circor", Label: "murmr"}, `data set circor has no label "murmr": did you mean murmur?`},
		{"verdict", config.LabelSource{DataSet: "circor", Label: "verdict"}, `data set circor has no label "verdict": there are `},
		{"verdict", config.LabelSource{DataSet: "pascal", Label: "label"}, `no data set "pascal" in this run: there are circor, cinc2016`},
	} {
		err := c.AddLabels([]config.CommonLabel{{Name: tt.name, From: []config.LabelSource{tt.from}}})
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v, want %s", err, tt.want)
		}
	}
	configured := config.Default()
	for _, tt := range []struct {
		label config.CommonLabel
		want  string
	}{
		{config.CommonLabel{Name: "Verdict", From: []config.LabelSource{fromLabel}}, `labels[0].name is "Verdict"`},
		{config.CommonLabel{Name: "verdict"}, "from is missing"},
		{config.CommonLabel{Name: "verdict", From: []config.LabelSource{fromLabel, fromLabel}}, "data set cinc2016 is named twice"},
		{config.CommonLabel{Name: "verdict", From: []config.LabelSource{{Label: "label"}}}, "give data-set and label"},
	} {
		configured.Labels = []config.CommonLabel{tt.label}
		if err := configured.Check(); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v, want %s", err, tt.want)
		}
	}
	configured.Labels = []config.CommonLabel{{Name: "a", From: []config.LabelSource{fromLabel}}, {Name: "a", From: []config.LabelSource{fromLabel}}}
	if err := configured.Check(); err == nil || !strings.Contains(err.Error(), "another common label has") {
		t.Error(err)
	}
}
