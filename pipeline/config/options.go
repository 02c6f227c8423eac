package config

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
)

// SetOptions sets options of the method, each written as key=value. They
// replace those of the configuration. The key of a nested option is a path with
// dots, as in timing.s1-sd=0.02.
func (c *Config) SetOptions(pairs []string) (err error) {
	c.Options, err = withOptions(c.Options, pairs)
	return err
}

// SetFitOptions is SetOptions for the options of the method's fit.
func (c *Config) SetFitOptions(pairs []string) (err error) {
	c.Fit, err = withOptions(c.Fit, pairs)
	return err
}

// MergeOptions sets the options of the method and of its fit that two nodes hold, nil
// for none. They replace those of the configuration one by one.
func (c *Config) MergeOptions(options, fit ast.Node) (err error) {
	if c.Options, err = merged(c.Options, options); err != nil {
		return err
	}
	c.Fit, err = merged(c.Fit, fit)
	return err
}

// merged returns the options of two nodes, those of more where both have one.
func merged(node, more ast.Node) (ast.Node, error) {
	if node == nil || more == nil {
		return cmp.Or(more, node), nil
	}
	var options, own yaml.MapSlice
	for n, into := range map[ast.Node]*yaml.MapSlice{node: &options, more: &own} {
		if err := yaml.NodeToValue(n, into, yaml.UseOrderedMap()); err != nil {
			return nil, fmt.Errorf("options: %w", err)
		}
	}
	changed, err := yaml.ValueToNode(mergedValues(options, own))
	if err != nil {
		return nil, fmt.Errorf("options: %w", err)
	}
	return changed, nil
}

func mergedValues(options, own yaml.MapSlice) yaml.MapSlice {
	for _, item := range own {
		if inner, nested := item.Value.(yaml.MapSlice); nested {
			for _, was := range options {
				if values, ok := was.Value.(yaml.MapSlice); ok && was.Key == item.Key {
					item.Value = mergedValues(values, inner)
				}
			}
		}
		options = setItem(options, item.Key.(string), item.Value)
	}
	return options
}

// withOptions returns the options of node, replaced by those of pairs where
// both have one.
func withOptions(node ast.Node, pairs []string) (ast.Node, error) {
	if len(pairs) == 0 {
		return node, nil
	}
	options := yaml.MapSlice{}
	if node != nil {
		if err := yaml.NodeToValue(node, &options, yaml.UseOrderedMap()); err != nil {
			return nil, fmt.Errorf("options: %w", err)
		}
	}
	for _, pair := range pairs {
		path, text, ok := strings.Cut(pair, "=")
		if !ok || path == "" {
			return nil, fmt.Errorf("option %q: write key=value", pair)
		}
		var value any
		if err := yaml.Unmarshal([]byte(text), &value); err != nil {
			return nil, fmt.Errorf("option %s: %q is no value", path, text)
		}
		options = setPath(options, strings.Split(path, "."), value)
	}
	changed, err := yaml.ValueToNode(options)
	if err != nil {
		return nil, fmt.Errorf("options: %w", err)
	}
	return changed, nil
}

// setPath sets the value at a path of keys.
func setPath(m yaml.MapSlice, path []string, value any) yaml.MapSlice {
	if len(path) == 1 {
		return setItem(m, path[0], value)
	}
	var inner yaml.MapSlice
	for _, item := range m {
		if item.Key == path[0] {
			inner, _ = item.Value.(yaml.MapSlice)
		}
	}
	return setItem(m, path[0], setPath(inner, path[1:], value))
}

func setItem(m yaml.MapSlice, key string, value any) yaml.MapSlice {
	for i := range m {
		if m[i].Key == key {
			m[i].Value = value
			return m
		}
	}
	return append(m, yaml.MapItem{Key: key, Value: value})
}
