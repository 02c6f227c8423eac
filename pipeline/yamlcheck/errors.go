package yamlcheck

import (
	"errors"
	"fmt"
	"reflect"
	"time"

	"github.com/goccy/go-yaml"
)

// located turns an error of the YAML package, which quotes several lines of the
// file and names types of Go, into one plain line with its place. Keys are those
// that the file may hold.
func located(name string, err error, keys []string) error {
	var y yaml.Error
	if !errors.As(err, &y) || y.GetToken() == nil || y.GetToken().Position == nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	at := y.GetToken().Position
	return fmt.Errorf("%s:%d:%d: %s", name, at.Line, at.Column, plain(y, keys))
}

func plain(err yaml.Error, keys []string) string {
	switch e := err.(type) {
	case *yaml.UnknownFieldError:
		if near := Nearest(e.Token.Value, keys); near != "" {
			return fmt.Sprintf("unknown key %q: did you mean %q?", e.Token.Value, near)
		}
		return fmt.Sprintf("unknown key %q: remove it or correct its name", e.Token.Value)
	case *yaml.TypeError:
		return fmt.Sprintf("%q: want %s", e.Token.Value, wanted(e.DstType))
	case *yaml.OverflowError:
		return fmt.Sprintf("%q: the number is out of range", e.Token.Value)
	case *yaml.UnexpectedNodeTypeError:
		return fmt.Sprintf("%s where %s belongs", e.Actual.YAMLName(), e.Expected.YAMLName())
	}
	return err.GetMessage()
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
