package report

import (
	"cmp"
	"fmt"
	"html/template"
	"io"
	"slices"

	"phonocycle/eval"
)

// studyContent is what the template of the page of a study reads.
type studyContent struct {
	*eval.Study
	document
	Tables  map[string]template.HTML // of all columns, by name
	Notes   map[string]string        // how to read the tables
	Designs []studyColumn
	Rules   []studyRules
	Changed bool // there are conditions
	Noise   bool // there are levels of noise
	Costs   bool // what segmenting costs is known
}

// studyColumn is what the page shows of a column.
type studyColumn struct {
	eval.OverviewColumn
	Excluded int             // recordings
	Noise    []template.HTML // figures
	Others   template.HTML   // figure of the other conditions
	Cost     template.HTML   // figure
	Tables   map[string]template.HTML
	Origins  []eval.Rule // how scores arose, by methods
	Failing  int         // recordings on which every method fails
}

// studyRules are the rules of some columns.
type studyRules struct {
	Columns []string
	Words   []eval.Rule
}

// WriteStudy writes the page of a study as one HTML file.
func WriteStudy(w io.Writer, s *eval.Study) error {
	content := studyContent{Study: s, document: newDocument(cmp.Or(s.Header.Title, "Study of segmentation methods"), "study.css")}
	var err error
	if content.Tables, content.Notes, err = studyTables(s, ""); err != nil {
		return err
	}
	content.Changed = content.Tables["conditions"] != ""
	for i := range s.Columns {
		column, err := newStudyColumn(s, i)
		if err != nil {
			return err
		}
		content.Designs = append(content.Designs, column)
		content.Noise = content.Noise || len(column.Noise) > 0
		content.Costs = content.Costs || column.Cost != ""
		content.addRules(&column.OverviewColumn)
	}
	if err := templates.ExecuteTemplate(w, "study.html", &content); err != nil {
		return fmt.Errorf("study: %w", err)
	}
	return nil
}

// studyTables returns the tables of a study as HTML, and apart from them their notes, by
// name. The ids of the tables end with id.
func studyTables(s *eval.Study, id string) (tables map[string]template.HTML, notes map[string]string, err error) {
	tables, notes = make(map[string]template.HTML), make(map[string]string)
	for _, t := range s.Tables() {
		name := t.Name
		notes[name] = t.Note
		t.Name, t.Note = name+id, ""
		if tables[name], err = tableHTML(&t); err != nil {
			return nil, nil, err
		}
	}
	return tables, notes, nil
}

// newStudyColumn draws the figures and tables of a column.
func newStudyColumn(s *eval.Study, i int) (c studyColumn, err error) {
	id := fmt.Sprint(i + 1)
	own := s.In(s.Columns[i].Name)
	c = studyColumn{OverviewColumn: s.Columns[i], Failing: len(own.Failing), Excluded: own.Cells[0].Counts.Excluded}
	drawn := func(f *figure) template.HTML {
		if f == nil {
			return ""
		}
		return f.svg("")
	}
	series, others := s.Header.NoiseSeries()
	for k, noise := range series {
		if f := noiseFigure(own, c.Name, fmt.Sprintf("%s-%d", id, k+1), noise); f != nil {
			c.Noise = append(c.Noise, f.svg(""))
		}
	}
	c.Others = drawn(conditionFigure(own, c.Name, id, others))
	c.Cost = drawn(costFigure(own, c.Name, id))
	for _, method := range s.Header.Methods {
		if k := slices.IndexFunc(own.Cells, func(cell eval.StudyCell) bool { return cell.Method == method }); k >= 0 {
			c.addOrigin(method, &own.Cells[k].Provenance)
		}
	}
	c.Tables, _, err = studyTables(own, "-"+id)
	return c, err
}

// addOrigin says how the scores of a method arose, with others that arose alike.
func (c *studyColumn) addOrigin(name string, p *eval.Provenance) {
	if p.Method != "" && p.Method != name {
		name += " (" + p.Method + ")"
	}
	text := cmp.Or(p.Short(), "not known")
	if p.FitReference != "" {
		text += ", to the reference " + p.FitReference
	}
	for i := range c.Origins {
		if c.Origins[i].Text == text {
			c.Origins[i].Name += ", " + name
			return
		}
	}
	c.Origins = append(c.Origins, eval.Rule{Name: name, Text: text})
}

// addRules adds the rules of a column to those of an earlier one with the same, or to
// the list.
func (c *studyContent) addRules(column *eval.OverviewColumn) {
	words := slices.DeleteFunc(column.Rules.Words(), func(r eval.Rule) bool { return r.Name == "Reference" }) // stands with the column
	for i := range c.Rules {
		if slices.Equal(c.Rules[i].Words, words) {
			c.Rules[i].Columns = append(c.Rules[i].Columns, column.Name)
			return
		}
	}
	c.Rules = append(c.Rules, studyRules{[]string{column.Name}, words})
}
