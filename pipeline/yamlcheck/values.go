package yamlcheck

import (
	"encoding"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// decoder decodes nodes into values of Go and goes on after an error, so that a
// user learns of all errors at once. Single values are read by the YAML package.
type decoder struct{ problems []*KeyError }

func (d *decoder) fail(key string, node ast.Node, format string, args ...any) {
	d.problems = append(d.problems, &KeyError{Key: key, Err: fmt.Errorf(format, args...), token: firstToken(node)})
}

// decode decodes the value of a key. A null leaves what v holds.
func (d *decoder) decode(key string, node ast.Node, v reflect.Value) {
	if v.Type() == reflect.TypeFor[ast.Node]() {
		v.Set(reflect.ValueOf(node))
		return
	}
	if _, null := node.(*ast.NullNode); null {
		return
	}
	if _, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		d.scalar(key, node, v)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			v.Set(reflect.New(v.Type().Elem()))
		}
		d.decode(key, node, v.Elem())
	case reflect.Struct:
		d.structure(key, node, v)
	case reflect.Map:
		d.mapping(key, node, v)
	case reflect.Slice:
		d.list(key, node, v)
	default:
		d.scalar(key, node, v)
	}
}

func (d *decoder) structure(key string, node ast.Node, v reflect.Value) {
	pairs, ok := pairsOf(node)
	if !ok {
		d.mistyped(key, node, v)
		return
	}
	names, fields := fieldsOf(v)
	for _, pair := range pairs {
		name := textOf(pair.Key)
		if field, ok := fields[name]; ok {
			d.decode(key+"."+name, pair.Value, field)
			continue
		}
		d.fail(key, pair, "%s", unknown("key", name, names))
		d.problems[len(d.problems)-1].unknown = name
	}
}

func (d *decoder) mapping(key string, node ast.Node, v reflect.Value) {
	pairs, ok := pairsOf(node)
	if !ok {
		d.mistyped(key, node, v)
		return
	}
	v.Set(reflect.MakeMap(v.Type()))
	for _, pair := range pairs {
		name := textOf(pair.Key)
		value := reflect.New(v.Type().Elem()).Elem()
		d.decode(key+"."+name, pair.Value, value)
		v.SetMapIndex(reflect.ValueOf(name).Convert(v.Type().Key()), value)
	}
}

func (d *decoder) list(key string, node ast.Node, v reflect.Value) {
	sequence, ok := node.(*ast.SequenceNode)
	if !ok {
		d.mistyped(key, node, v)
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(sequence.Values), len(sequence.Values)))
	for i, item := range sequence.Values {
		d.decode(fmt.Sprintf("%s[%d]", key, i), item, v.Index(i))
	}
}

// largestWhole bounds whole numbers that are written with a decimal point: from
// there on a float has no place for fractions.
const largestWhole = 1 << 53

func (d *decoder) scalar(key string, node ast.Node, v reflect.Value) {
	if container(node) != "" {
		d.mistyped(key, node, v)
		return
	}
	_, text := v.Addr().Interface().(encoding.TextUnmarshaler)
	if f, ok := node.(*ast.FloatNode); ok && !text && v.CanConvert(reflect.TypeFor[float64]()) && !v.CanFloat() &&
		(f.Value != math.Trunc(f.Value) || math.Abs(f.Value) > largestWhole) {
		d.mistyped(key, node, v) // else the YAML package would cut the fraction off
		return
	}
	err := yaml.NodeToValue(node, v.Addr().Interface())
	var y yaml.Error
	switch {
	case err == nil:
	case !errors.As(err, &y): // of a type of this program
		d.fail(key, node, "%w", err)
	case errors.As(err, new(*yaml.OverflowError)):
		d.fail(key, node, "%q: the number is out of range", textOf(node))
	default:
		d.mistyped(key, node, v)
	}
}

func (d *decoder) mistyped(key string, node ast.Node, v reflect.Value) {
	what := container(node)
	if what == "" {
		what = fmt.Sprintf("%q", textOf(node))
	}
	d.fail(key, node, "%s: want %s", what, wanted(v.Type()))
}

// firstToken returns where a node begins; that of a mapping is its first colon.
func firstToken(node ast.Node) *token.Token {
	switch n := node.(type) {
	case *ast.MappingNode:
		if len(n.Values) > 0 {
			return n.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return n.Key.GetToken()
	}
	return node.GetToken()
}

// container names a node that is no single value.
func container(node ast.Node) string {
	if _, ok := pairsOf(node); ok {
		return "keys with values"
	}
	if _, ok := node.(*ast.SequenceNode); ok {
		return "a list"
	}
	return ""
}

func pairsOf(node ast.Node) ([]*ast.MappingValueNode, bool) {
	switch n := node.(type) {
	case *ast.MappingNode:
		return n.Values, true
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{n}, true
	}
	return nil, false
}

// textOf returns a key or a single value as it is written, without quotes.
func textOf(node ast.Node) string {
	switch n := node.(type) {
	case *ast.MappingKeyNode:
		return textOf(n.Value)
	case *ast.LiteralNode:
		return n.Value.Value
	}
	return node.GetToken().Value
}

// fieldsOf returns the keys of a struct in their order, and the field of each.
func fieldsOf(v reflect.Value) (names []string, fields map[string]reflect.Value) {
	fields = map[string]reflect.Value{}
	for i := range v.NumField() {
		name, options, _ := strings.Cut(v.Type().Field(i).Tag.Get("yaml"), ",")
		if options == "inline" {
			inner, of := fieldsOf(v.Field(i))
			names = append(names, inner...)
			for k, f := range of {
				fields[k] = f
			}
		} else if name != "" && name != "-" {
			names = append(names, name)
			fields[name] = v.Field(i)
		}
	}
	return names, fields
}

// wanted describes the values of a type to someone who writes YAML.
func wanted(t reflect.Type) string {
	if t == reflect.TypeFor[time.Duration]() {
		return "a duration with its unit, such as 15s"
	}
	switch t.Kind() {
	case reflect.Pointer:
		return wanted(t.Elem())
	case reflect.Bool:
		return "true or false"
	case reflect.Float32, reflect.Float64:
		return "a number"
	case reflect.String:
		return "text"
	case reflect.Slice, reflect.Array:
		return "a list"
	case reflect.Map, reflect.Struct:
		return "keys with values"
	}
	return "a whole number"
}
