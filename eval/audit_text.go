package eval

import (
	"bytes"
	"fmt"
	"io"

	"phonocycle/eval/tabular"
)

// WriteText writes the counts by reason and the first few findings of each.
func (a *Audit) WriteText(w io.Writer) error {
	const most = 5
	return a.writeText(w, most)
}

// WriteList writes the counts by reason and all findings.
func (a *Audit) WriteList(w io.Writer) error { return a.writeText(w, len(a.Findings)) }

// writeText writes up to most findings of each reason.
func (a *Audit) writeText(w io.Writer, most int) error {
	var b bytes.Buffer
	fmt.Fprintln(&b, a.Title())
	for _, d := range a.Reasons() {
		fmt.Fprintf(&b, "\n%v: %s\n", d, tabular.Plural(a.ByReason[d.String()], "recording", "recordings"))
		n := 0
		for i := range a.Findings {
			f := &a.Findings[i]
			if f.Reason != d {
				continue
			}
			if n++; n <= most {
				tabular.Wrap(&b, fmt.Sprintf("  %-12s ", f.Recording), f.words())
			}
		}
		if n > most {
			fmt.Fprintf(&b, "  … and %s\n", tabular.Plural(n-most, "more finding", "more findings"))
		}
	}
	fmt.Fprintln(&b)
	tabular.Wrap(&b, "", a.Note()+" It says nothing about the health of a person.")
	return writeText(w, &b, nil)
}

// Title says what the findings are, and how many recordings have one.
func (a *Audit) Title() string {
	what := "References that deserve a second look"
	if a.Rules.S1Only() {
		what = "Recordings in which reference and prediction disagree, or that cannot be judged"
	}
	name := ""
	if a.Rules.Reference != "" {
		name = ", reference " + a.Rules.Reference
	}
	return fmt.Sprintf("%s%s: %d of %d", what, name, a.Flagged, a.Recordings)
}

// Note says what a finding is.
func (a *Audit) Note() string {
	if a.Rules.S1Only() {
		return "The reference does not come from the sound, and either can be wrong: look at the prediction, at the beats of the reference, and whether both belong to one recording. A finding proves nothing."
	}
	return "A finding is a reason to look, not a proof of a wrong reference."
}

// words returns the evidence with the number of places and where the first one
// stands in the data set.
func (f *Finding) words() string {
	text := f.Evidence
	if f.Count > 1 {
		text += fmt.Sprintf(", and %d more", f.Count-1)
	}
	if f.Place != "" {
		text += " (" + f.Place + ")"
	}
	return text
}

// WriteTable writes all findings for a paper.
func (a *Audit) WriteTable(w io.Writer, format tabular.Format) error {
	return tabular.Fill(tabular.Table{
		Name:  "audit",
		Title: a.Title(), Note: a.Note(),
	}, a.Findings,
		tabular.Words("Recording", func(f Finding) string { return f.Recording }),
		tabular.Words("Person", func(f Finding) string { return f.Person }),
		tabular.Words("Reason", func(f Finding) string { return f.Reason.String() }),
		tabular.Numbers("At, s", tabular.Thousandths, func(f Finding) float64 { return f.At.Seconds() }),
		tabular.Counts("Places", func(f Finding) int { return f.Count }),
		tabular.Words("Evidence", func(f Finding) string { return f.Evidence }),
		tabular.Words("File and line", func(f Finding) string { return f.Place })).Write(w, format)
}
