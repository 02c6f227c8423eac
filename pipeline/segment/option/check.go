package option

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// Check returns an error for the first option whose value is not accepted, with the
// values that are.
func Check(options []Option) error {
	for _, o := range options {
		if err := o.check(); err != nil {
			return err
		}
	}
	return nil
}

func (o Option) check() error {
	if !o.accepts(reflect.ValueOf(o.Value).Elem()) {
		format := "%s is %v: want %s"
		if len(o.Words) > 0 {
			format = "%s is %q: want %s"
		}
		return fmt.Errorf(format, o.Key, o.Current(), o.Range())
	}
	if o.Rule == nil {
		return nil
	}
	if err := o.Rule(); err != nil {
		return fmt.Errorf("%s: %w", o.Key, err)
	}
	return nil
}

// accepts reports whether a value, or each of a list, is accepted. No NaN is.
func (o Option) accepts(v reflect.Value) bool {
	switch v.Kind() {
	case reflect.Float64:
		return InRange(v.Float(), o.Low, o.High)
	case reflect.Int:
		return InRange(float64(v.Int()), o.Low, o.High)
	case reflect.String:
		return slices.Contains(o.Words, v.String())
	case reflect.Slice:
		for i := range v.Len() {
			if !o.accepts(v.Index(i)) {
				return false
			}
		}
	}
	return true // a bool, or a seed
}

// InRange reports whether a number lies between two others, both included. NaN never
// does.
func InRange(v, low, high float64) bool { return v >= low && v <= high }

// Range describes the values that are accepted.
func (o Option) Range() string {
	switch o.Value.(type) {
	case *bool:
		return "true or false"
	case *uint64:
		return "a whole number from 0"
	case *string:
		return strings.Join(o.Words, " or ")
	case *[]int:
		return "each " + o.numbers()
	}
	return o.numbers()
}

func (o Option) numbers() string {
	if o.Limit != "" {
		return o.Limit
	}
	if o.Low == o.High {
		return fmt.Sprint(o.Low)
	}
	return fmt.Sprintf("%v to %v", o.Low, o.High)
}

// Below returns the greatest number less than v, as the High of what must lie below
// it.
func Below(v float64) float64 { return math.Nextafter(v, math.Inf(-1)) }
