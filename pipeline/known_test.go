package pipeline

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// checkKnownSay makes sure that tables measured on the states in the output
// folder of c, which a model made that knows people, say so: in the report, in
// their metadata and in each row. Those measured on the reference do not.
func checkKnownSay(t *testing.T, c config.Config, model *segment.Model) {
	t.Helper()
	for _, source := range []string{table.Predicted, table.Reference} {
		measured := c
		measured.Out = filepath.Join(t.TempDir(), "measured")
		report, err := Extract(context.Background(), measured, c.Out, source, nil)
		if err != nil {
			t.Fatal(err)
		}
		warned := len(report.Warnings) > 0 && strings.Contains(report.Warnings[0], "fitted on recordings of")
		people, err := table.OpenParts[table.Person](table.PartsOf[table.Person](measured.Out))
		if err != nil {
			t.Fatal(err)
		}
		inTable := len(people.Metadata().Warnings) == 1 && strings.Contains(people.Metadata().Warnings[0], "fitted on recordings of")
		if want := source == table.Predicted; warned != want || inTable != want {
			t.Errorf("%s: warned on screen %v and in the table %v, want %v", source, warned, inTable, want)
		}
		for record, err := range people.Rows() {
			if err != nil {
				t.Fatal(err)
			}
			p := record.Row
			switch knows := model.Knows(segment.PersonKey(p.DataSet, p.Person)); {
			case p.Measured == 0:
			case source == table.Reference && p.PersonInTrainingData != nil:
				t.Errorf("person %s: the reference knows nobody", p.Person)
			case source == table.Predicted && (p.PersonInTrainingData == nil || *p.PersonInTrainingData != knows):
				t.Errorf("person %s: person_in_training_data %v, want %v", p.Person, p.PersonInTrainingData, knows)
			}
		}
	}
}
