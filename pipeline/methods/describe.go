package methods

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"

	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/yamlcheck"
)

// Description is all that is known of a method, or of a run configuration with its
// method.
type Description struct {
	Entry
	Citation string   `json:"citation"`
	DOI      string   `json:"doi,omitempty"`
	Digest   string   `json:"digest,omitempty"` // of a method that is a program
	Differs  []string `json:"differs,omitempty"`

	Configuration *Configuration `json:"configuration,omitempty"`

	Options    []Option `json:"options"`
	FitOptions []Option `json:"fit_options"`

	entries []citation.Entry
}

// Configuration is what a run configuration says of itself.
type Configuration struct {
	Name     string   `json:"name"`
	Title    string   `json:"title,omitempty"`
	Citation string   `json:"citation,omitempty"`
	Paper    string   `json:"paper,omitempty"`
	Differs  []string `json:"differs,omitempty"`
	Model    string   `json:"model,omitempty"`
}

// Option is an option with its value and all that is known of it.
type Option struct {
	Key     string          `json:"key"`
	Value   json.RawMessage `json:"value"` // the default, unless a run configuration has another
	Default json.RawMessage `json:"default"`
	Unit    string          `json:"unit,omitempty"`
	Meaning string          `json:"meaning,omitempty"`
	Range   string          `json:"accepted,omitempty"`
	Low     *float64        `json:"low,omitempty"`
	High    *float64        `json:"high,omitempty"`
	Words   []string        `json:"words,omitempty"`
	Paper   any             `json:"paper,omitempty"`
	Source  string          `json:"source,omitempty"`
	Memory  bool            `json:"from_memory,omitempty"` // the paper's value was not checked against the print
	Differs bool            `json:"differs,omitempty"`     // the value is not the paper's
	Reason  string          `json:"reason,omitempty"`      // of the default

	known bool // the value of the paper
}

// Describe describes a method of the program, a method or a run configuration in a file,
// or a built-in run configuration.
func Describe(name string) (*Description, error) {
	c, configuration, err := load(name)
	if err != nil {
		return nil, err
	}
	m, err := c.LoadFit()
	if err != nil {
		return nil, err
	}
	e, err := entry(m.Method)
	if err != nil {
		return nil, err
	}
	d := &Description{Entry: e, Citation: m.Cite(), DOI: m.Paper.DOI, Digest: m.Digest, Differs: m.Differs, Configuration: configuration}
	if d.Options, err = describe(m.Defaults(), m.Options); err != nil {
		return nil, err
	}
	if m.Fit != nil {
		if d.FitOptions, err = describe(m.FitDefaults(), m.FitOptions); err != nil {
			return nil, err
		}
	}
	d.entries = methodEntries(m.Method)
	if configuration != nil && configuration.Citation != "" {
		d.entries = append(d.entries, citation.Misc(name, cmp.Or(c.Title, name), c.Citation, ""))
	}
	return d, nil
}

// load returns a run configuration with the method of the given name, and what it says
// of itself where the name is that of a configuration.
func load(name string) (c config.Config, configuration *Configuration, err error) {
	file := config.IsFile(name)
	if _, err := segment.Lookup(name); err == nil || file && isProgram(name) {
		c = config.Default()
		c.Method = name
		return c, nil, nil
	}
	if c, err = config.Load(name); err != nil {
		if !file {
			err = fmt.Errorf("no method and no run configuration is called %q: there are the methods %s and the run configurations %s; a file needs its extension, as in ./%s.yaml",
				name, strings.Join(names(), ", "), strings.Join(config.Names(), ", "), name)
		}
		return c, nil, err
	}
	configuration = &Configuration{Name: name, Title: c.Title, Citation: c.Citation, Paper: c.Paper, Differs: c.Differs}
	if c.Model != config.BuiltinModel {
		configuration.Model = c.Model
	}
	return c, configuration, nil
}

// isProgram reports whether a YAML file describes a method: it has the command that
// segments.
func isProgram(path string) bool {
	const most = 1 << 20
	var keys map[string]any
	content, err := yamlcheck.ReadFile(path, most)
	if err != nil || yaml.Unmarshal(content, &keys) != nil {
		return false
	}
	_, segments := keys["segment"]
	return segments
}

func names() []string {
	var list []string
	for _, m := range segment.Methods() {
		list = append(list, m.Name)
	}
	return list
}

// describe returns the options of a method, given their defaults and all their values.
func describe(defaults any, values json.RawMessage) ([]Option, error) {
	keys, of, err := object(values)
	if err != nil {
		return nil, err
	}
	set, described := defaults.(option.Set)
	if !described { // of a program, which says no more of them
		var list []Option
		for _, k := range keys {
			list = append(list, Option{Key: k, Value: of[k]})
		}
		return list, nil
	}
	var list []Option
	for _, o := range set.Options() {
		if of[o.Key] == nil {
			continue // as in a model that another version fitted
		}
		d := Option{
			Key: o.Key, Value: of[o.Key], Unit: o.Unit, Meaning: o.About, Range: o.Range(), Words: o.Words,
			Paper: o.Paper, Source: o.Source.String(), Memory: o.Source.Origin == option.Memory, Reason: o.Default,
		}
		if d.Default, err = json.Marshal(o.Current()); err != nil {
			return nil, fmt.Errorf("option %s: %w", o.Key, err)
		}
		if err := json.Unmarshal(d.Value, o.Value); err != nil {
			return nil, fmt.Errorf("option %s: %w", o.Key, err)
		}
		d.Differs, d.known = o.Differs(), o.HasPaper()
		if o.Limit == "" && o.High != 0 {
			d.Low, d.High = &o.Low, &o.High
		}
		list = append(list, d)
	}
	return list, nil
}

// object returns the keys of a JSON object in order, and their values without white
// space, which a file has and a default value has not.
func object(text json.RawMessage) (keys []string, values map[string]json.RawMessage, err error) {
	var compact bytes.Buffer
	if err := json.Compact(&compact, text); err != nil {
		return nil, nil, err
	}
	text = compact.Bytes()
	if err := json.Unmarshal(text, &values); err != nil {
		return nil, nil, err
	}
	d := json.NewDecoder(bytes.NewReader(text))
	if _, err := d.Token(); err != nil {
		return nil, nil, err
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			return nil, nil, err
		}
		keys = append(keys, key.(string))
		var skip json.RawMessage
		if err := d.Decode(&skip); err != nil {
			return nil, nil, err
		}
	}
	return keys, values, nil
}
