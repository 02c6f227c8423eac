package config

import (
	"context"
	"encoding/json"
	"fmt"
	"iter"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/segment/option"
	"phonocycle/pipeline/segment/program"
	"phonocycle/pipeline/yamlcheck"
)

// Method is a segmentation method with its options, and with its model or the
// options of its fit.
type Method struct {
	segment.Method
	Options    json.RawMessage // all of them, defaults included
	FitOptions json.RawMessage // the same of the fit; nil where nothing is fitted
	Model      []byte          // content of the model file; nil without

	// Training is the model, for the people of its training data; nil without.
	Training *segment.Model

	options, fitOptions any
}

// LoadMethod finds the method of c, decodes its options and loads its model.
func (c *Config) LoadMethod() (*Method, error) {
	m, err := c.methodWithOptions()
	if err != nil {
		return nil, err
	}
	if m.Model, err = loadModel(m.Method, c.Model); err != nil {
		return nil, err
	}
	if m.Model != nil {
		if m.Training, err = segment.ParseModel(m.Model, m.Name); err != nil {
			return nil, fmt.Errorf("model %s: %w", c.Model, err)
		}
	}
	_, err = m.Segmenter(m.Model)
	return m, err
}

// LoadFit finds the method of c and decodes its options and those of its fit. A
// method without parameters to fit is an error only where c has options of a
// fit.
func (c *Config) LoadFit() (*Method, error) {
	m, err := c.methodWithOptions()
	if err != nil {
		return nil, err
	}
	if m.Fit == nil {
		if c.Fit != nil {
			return nil, fmt.Errorf("method %s has no parameters to fit, and so no options of a fit: leave them out", m.Name)
		}
		return m, nil
	}
	m.fitOptions = m.FitDefaults()
	m.FitOptions, err = decodeOptions("fit options of method "+m.Name, c.Fit, m.fitOptions)
	return m, err
}

func (c *Config) methodWithOptions() (*Method, error) {
	found, err := lookup(c.Method)
	if err != nil {
		return nil, err
	}
	m := &Method{Method: found, options: found.Defaults()}
	m.Options, err = decodeOptions("options of method "+m.Name, c.Options, m.options)
	return m, err
}

// lookup returns the method of a name, or the program that a file describes.
func lookup(nameOrFile string) (segment.Method, error) {
	if IsFile(nameOrFile) {
		return program.Load(nameOrFile)
	}
	m, err := segment.Lookup(nameOrFile)
	if err != nil {
		err = fmt.Errorf("%w, or the YAML file of a program, as in ./%s.yaml", err, nameOrFile)
	}
	return m, err
}

// IsFile tells a file from the name of something that the program brings along.
func IsFile(name string) bool { return strings.ContainsAny(name, `./\`) }

// Segmenter makes a segmenter with the given model, nil for a method that works
// without one.
func (m *Method) Segmenter(model []byte) (segment.Segmenter, error) {
	s, err := m.New(m.options, model)
	if err != nil {
		return nil, fmt.Errorf("method %s: %w", m.Name, err)
	}
	return s, nil
}

// Estimate fits the method to examples by the options of the configuration.
func (m *Method) Estimate(ctx context.Context, examples iter.Seq2[segment.Example, error], how segment.Fitting) (json.RawMessage, error) {
	return m.Fit(ctx, m.fitOptions, examples, how)
}

// decodeOptions sets the options of node, if any, in place of the defaults in
// options, and returns them all as JSON with the keys of the flags. An unknown option
// is an error, and so is a value that is not accepted.
func decodeOptions(what string, node ast.Node, options any) (json.RawMessage, error) {
	if node != nil {
		if err := yamlcheck.DecodeNode(what, node, options); err != nil {
			return nil, err
		}
	}
	set, described := options.(option.Set)
	if !described {
		return json.Marshal(options)
	}
	if err := option.Check(set.Options()); err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	content, err := option.JSON(set)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return content, nil
}
