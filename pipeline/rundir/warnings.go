package rundir

import (
	"fmt"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/table"
)

// Metadata returns what the tables of the plan say about how they were made.
func (p *Plan) Metadata() table.Metadata {
	return table.Metadata{Tool: p.Tool, Config: p.Digest, Warnings: p.Warnings()}
}

// Warnings returns what a reader must know before using the tables of the plan.
func (p *Plan) Warnings() []string {
	warnings := p.TableWarnings()
	if c := p.AudioCondition(); c != "" {
		warnings = append(warnings, "the audio was changed: "+c)
	}
	if p.TrainingOverlap == 0 {
		return warnings
	}
	return append(warnings, fmt.Sprintf("the method was fitted on recordings of %d of these people: its segmentation of them, "+
		"and what is measured by it, says nothing about others; column person_in_training_data tells who", p.TrainingOverlap))
}

// TableWarnings returns the faults of all data sets.
func (p *Plan) TableWarnings() []string {
	var warnings []string
	for _, s := range p.DataSets {
		for _, f := range s.TableFaults {
			warnings = append(warnings, fmt.Sprintf("data set %s: %s", s.Name, f.Text))
		}
	}
	return warnings
}

// CheckTables refuses data sets whose layout tells people apart by a table that
// is missing or could not be read, unless that is accepted. A fit or a score by
// people would be wrong: one person could stand on both sides.
func (p *Plan) CheckTables(unread config.UnreadTables) error {
	if unread == config.AcceptUnreadTables {
		return nil
	}
	for _, s := range p.DataSets {
		for _, f := range s.TableFaults {
			if f.People {
				return fmt.Errorf("data set %s: %s, and people of the training data may be scored; "+
					"correct the table (scan lists all that is wrong with it), or go on without it with --unread-tables accept", s.Name, f.Text)
			}
		}
	}
	return nil
}
