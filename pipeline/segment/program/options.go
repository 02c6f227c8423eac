package program

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/yamlcheck"
)

// optionSet holds the options that the file of a method declares: a struct with a
// field for each, in their order, which holds its default value. So options of a
// program are checked, printed and set like those of any method.
type optionSet struct{ defaults reflect.Value }

// withDefaults returns a pointer to a new struct that holds the default values.
func (o *optionSet) withDefaults() any {
	p := reflect.New(o.defaults.Type())
	p.Elem().Set(o.defaults)
	return p.Interface()
}

// any reports whether there are options.
func (o *optionSet) any() bool { return o.defaults.NumField() > 0 }

// optionName is what an option may be called.
var optionName = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_-]{0,63}$`)

// readOptions reads the options below a key of the file: a value for each, which is a
// number, a text, true or false, or a list of numbers or of texts. An option keeps the
// type of its default value.
func readOptions(key string, node ast.Node) (*optionSet, []*yamlcheck.KeyError) {
	var values yaml.MapSlice
	var problems []*yamlcheck.KeyError
	fail := func(key, format string, args ...any) {
		problems = append(problems, &yamlcheck.KeyError{Key: key, Err: fmt.Errorf(format, args...)})
	}
	if node != nil && yaml.NodeToValue(node, &values, yaml.UseOrderedMap()) != nil {
		fail(key, "want keys with values, the default values of the options")
	}
	var fields []reflect.StructField
	var defaults []reflect.Value
	for _, item := range values {
		name, ok := item.Key.(string)
		if !ok || !optionName.MatchString(name) {
			fail(key, "option %v: want a name of letters, digits, - and _", item.Key)
			continue
		}
		value, err := defaultOf(item.Value)
		if err != nil {
			fail(key+"."+name, "%w", err)
			continue
		}
		fields = append(fields, reflect.StructField{
			Name: fmt.Sprintf("Option%d", len(fields)), Type: value.Type(),
			Tag: reflect.StructTag(fmt.Sprintf(`yaml:"%s" json:"%s"`, name, name)),
		})
		defaults = append(defaults, value)
	}
	set := &optionSet{reflect.New(reflect.StructOf(fields)).Elem()}
	for i, v := range defaults {
		set.defaults.Field(i).Set(v)
	}
	return set, problems
}

// largestWhole bounds whole numbers: from it on not every one is a float64.
const largestWhole = 1 << 53

// defaultOf returns a default value. All numbers are of one type, so that 1 can become
// 0.5.
func defaultOf(value any) (reflect.Value, error) {
	if x, ok := number(value); ok {
		if !(math.Abs(x) <= math.MaxFloat64) || isWhole(value) && math.Abs(x) >= largestWhole {
			return reflect.Value{}, fmt.Errorf("%v is out of range", value)
		}
		return reflect.ValueOf(x), nil
	}
	switch v := value.(type) {
	case bool, string:
		return reflect.ValueOf(v), nil
	case []any:
		return listOf(v)
	}
	return reflect.Value{}, errors.New("want a number, a text, true, false, or a list of numbers or of texts")
}

func isWhole(value any) bool {
	_, fraction := value.(float64)
	return !fraction
}

func number(value any) (float64, bool) {
	switch v := value.(type) {
	case float64:
		return v, true
	case int64:
		return float64(v), true
	case uint64:
		return float64(v), true
	}
	return 0, false
}

// listOf returns a list of numbers or of texts.
func listOf(items []any) (reflect.Value, error) {
	list := reflect.Value{}
	for _, item := range items {
		v, err := defaultOf(item)
		if err != nil {
			return v, err
		}
		if !list.IsValid() {
			list = reflect.MakeSlice(reflect.SliceOf(v.Type()), 0, len(items))
		}
		if kind := v.Kind(); list.Type().Elem() != v.Type() || kind != reflect.Float64 && kind != reflect.String {
			return list, errors.New("want a list of numbers or a list of texts")
		}
		list = reflect.Append(list, v)
	}
	if !list.IsValid() {
		return list, errors.New("an empty list does not say what it holds: give a default value")
	}
	return list, nil
}
