package rundir

import (
	"fmt"

	"phonocycle/pipeline/config"
)

// TableFault is a label table of a data set that is missing or could not be read
// as the layout says.
type TableFault struct {
	Text   string `json:"text"`             // what is wrong, with file and line
	People bool   `json:"people,omitempty"` // the layout tells people apart by what could not be read
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
