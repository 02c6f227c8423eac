package methods

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"phonocycle/configs"
	"phonocycle/eval/tabular"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/segment"
)

// List is the methods of the program.
type List []Entry

// Entry is what a list says of a method.
type Entry struct {
	Name           string   `json:"name"`
	Title          string   `json:"title"`
	Paper          string   `json:"paper"` // authors and year
	Fitted         bool     `json:"fitted"`
	Models         []Model  `json:"built_in_models,omitempty"`
	Configurations []string `json:"run_configurations,omitempty"`
}

// Model is a built-in model of a method.
type Model struct {
	Name       string `json:"name"`
	DataSet    string `json:"data_set"`
	People     int    `json:"people"`
	Recordings int    `json:"recordings"`
}

// All lists the methods of the program.
func All() (List, error) {
	var list List
	for _, m := range segment.Methods() {
		e, err := entry(m)
		if err != nil {
			return nil, err
		}
		list = append(list, e)
	}
	return list, nil
}

// entry returns what is known of a method in short.
func entry(m segment.Method) (Entry, error) {
	e := Entry{Name: m.Name, Title: m.Title, Fitted: m.Fit != nil}
	if m.Paper.Title != "" {
		e.Paper = m.Paper.Short()
	}
	for _, name := range config.ModelNames() {
		content, err := configs.FS.ReadFile("models/" + name + ".json")
		if err != nil {
			return e, err
		}
		model, err := segment.ParseModel(content, "")
		if err != nil {
			return e, fmt.Errorf("built-in model %s: %w", name, err)
		}
		if model.Method == m.Name {
			e.Models = append(e.Models, Model{name, model.DataSet, len(model.People), model.Recordings})
		}
	}
	for _, name := range config.Names() {
		c, err := config.Load(name)
		if err != nil {
			return e, err
		}
		if c.Method == m.Name {
			e.Configurations = append(e.Configurations, name)
		}
	}
	return e, nil
}

// WriteText prints a paragraph for each method.
func (l List) WriteText(w io.Writer) error {
	var b bytes.Buffer
	for _, e := range l {
		tabular.Wrap(&b, fmt.Sprintf("%-15s", e.Name), e.Title)
		tabular.Wrap(&b, strings.Repeat(" ", 15), fmt.Sprintf("%s. %s", e.Paper, e.parts()))
	}
	b.WriteString("\nphonocycle methods NAME prints the options of a method or of a run configuration.\n")
	_, err := w.Write(b.Bytes())
	return err
}

// parts says in sentences whether the method is fitted, and what comes with it.
func (e *Entry) parts() string {
	text := "Not fitted."
	if e.Fitted {
		text = "Fitted."
	}
	if names := e.modelNames(); names != "" {
		text += " Built-in models: " + names + "."
	}
	if len(e.Configurations) > 0 {
		text += " Run configurations: " + strings.Join(e.Configurations, ", ") + "."
	}
	return text
}

func (e *Entry) modelNames() string {
	var names []string
	for _, m := range e.Models {
		names = append(names, m.Name)
	}
	return strings.Join(names, ", ")
}

// WriteTable prints a row for each method.
func (l List) WriteTable(w io.Writer, format tabular.Format) error {
	return tabular.Fill(tabular.Table{Name: "methods", Title: "Methods"}, l,
		tabular.Words("Method", func(e Entry) string { return e.Name }),
		tabular.Words("Title", func(e Entry) string { return e.Title }),
		tabular.Words("Paper", func(e Entry) string { return e.Paper }),
		tabular.Words("Fitted", func(e Entry) string { return map[bool]string{true: "yes", false: "no"}[e.Fitted] }),
		tabular.Words("Models", func(e Entry) string { return e.modelNames() }),
		tabular.Words("Run configurations", func(e Entry) string { return strings.Join(e.Configurations, ", ") }),
	).Write(w, format)
}
