package methods

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"phonocycle/eval/tabular"
)

// WriteText prints the description in lines for a screen.
func (d *Description) WriteText(w io.Writer) error {
	var b bytes.Buffer
	if c := d.Configuration; c != nil {
		c.text(&b)
		fmt.Fprintln(&b)
	}
	tabular.Wrap(&b, d.Name+": ", d.Title)
	tabular.Wrap(&b, "", cmp.Or(d.Citation, "It states no citation."))
	tabular.Wrap(&b, "", d.parts())
	for _, m := range d.Models {
		tabular.Wrap(&b, "", fmt.Sprintf("Model %s: fitted to %s of %s of the %s.", m.Name,
			tabular.Plural(m.Recordings, "recording", "recordings"), tabular.Plural(m.People, "person", "people"), m.DataSet))
	}
	if d.Digest != "" {
		tabular.Wrap(&b, "", "Program: "+d.Digest+".")
	}
	points(&b, "Differs from the paper, beside its options:", d.Differs)
	d.options(&b, "Options (--option KEY=VALUE)", d.Options)
	if d.Fitted {
		d.options(&b, "Options of the fit (--fit-option KEY=VALUE)", d.FitOptions)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (c *Configuration) text(b *bytes.Buffer) {
	tabular.Wrap(b, c.Name+": ", strings.TrimSpace(c.Title+" (run configuration, --config "+c.Name+")"))
	if c.Citation != "" {
		tabular.Wrap(b, "", c.Citation)
	}
	if c.Paper != "" {
		tabular.Wrap(b, "The paper: ", c.Paper)
	}
	if c.Model != "" {
		tabular.Wrap(b, "Model: ", c.Model)
	}
	points(b, "Differs from the paper:", c.Differs)
}

// points prints a list of sentences.
func points(b *bytes.Buffer, heading string, list []string) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(b, "\n%s\n", heading)
	for _, text := range list {
		tabular.Wrap(b, "- ", text)
	}
}

func (d *Description) options(b *bytes.Buffer, heading string, list []Option) {
	if len(list) == 0 {
		heading += ": none"
	}
	fmt.Fprintf(b, "\n%s\n", heading)
	for i := range list {
		list[i].text(b, d.Configuration != nil)
	}
}

// text prints the option. In a run configuration it says where the value is not the
// default.
func (o *Option) text(b *bytes.Buffer, configured bool) {
	head := strings.TrimSpace(fmt.Sprintf("%s = %s %s", o.Key, plain(o.Value), o.Unit))
	if configured && !bytes.Equal(o.Value, o.Default) {
		head += fmt.Sprintf(" (default of the method: %s)", plain(o.Default))
	}
	fmt.Fprintf(b, "\n  %s\n", head)
	if o.Meaning == "" {
		return
	}
	tabular.Wrap(b, "    ", o.Meaning+". Accepted: "+o.Range+".")
	tabular.Wrap(b, "    ", o.origin())
}

// origin says what the paper has, where that was found, and why the value is another.
func (o *Option) origin() string {
	var text string
	switch {
	case o.Paper == nil:
		text = "Paper: none. Source: a choice of this project."
	case o.Differs:
		text = fmt.Sprintf("Paper: %v, which differs. Source: %s.", o.Paper, o.Source)
	default:
		text = fmt.Sprintf("Paper: %v. Source: %s.", o.Paper, o.Source)
	}
	if o.Reason != "" && (o.Differs || !o.known) && bytes.Equal(o.Value, o.Default) {
		text += " Why: " + o.Reason + "."
	}
	return text
}

// plain returns a value as --option takes it.
func plain(value json.RawMessage) string {
	var text string
	if json.Unmarshal(value, &text) == nil {
		return text
	}
	return string(value)
}

// WriteTable prints a row for each option.
func (d *Description) WriteTable(w io.Writer, format tabular.Format) error {
	rows := slices.Clone(d.Options)
	for _, o := range d.FitOptions {
		o.Key += " (fit)"
		rows = append(rows, o)
	}
	return tabular.Fill(tabular.Table{
		Name: "options", Title: "Options of " + d.heading(),
		Note: "Paper: the value of " + d.Paper + "; a dash where it has none.",
	}, rows,
		tabular.Words("Option", func(o Option) string { return o.Key }),
		tabular.Words("Value", func(o Option) string { return plain(o.Value) }),
		tabular.Words("Unit", func(o Option) string { return o.Unit }),
		tabular.Words("Accepted", func(o Option) string { return o.Range }),
		tabular.Words("Paper", func(o Option) string {
			if o.Paper == nil {
				return "–"
			}
			return fmt.Sprint(o.Paper)
		}),
		tabular.Words("Source", func(o Option) string { return o.Source }),
	).Write(w, format)
}

func (d *Description) heading() string {
	if d.Configuration != nil {
		return d.Configuration.Name
	}
	return d.Name
}
