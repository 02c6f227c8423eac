package export

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"phonocycle/pipeline/table"
	"phonocycle/pipeline/yamlcheck"
)

// Condition compares a column with a value, as murmur=Absent or confidence>=0.9.
type Condition struct {
	Column, Operator, Value string

	number   float64
	isNumber bool
}

// operators are those of conditions, the longer before those that they begin with.
var operators = []string{"!=", "<=", ">=", "=", "<", ">"}

// ParseConditions reads conditions. The value is the rest of the text, in which no
// quotes are needed; without a value, = selects missing values and != others.
func ParseConditions(texts []string) ([]Condition, error) {
	var conditions []Condition
	for _, text := range texts {
		c, err := parseCondition(text)
		if err != nil {
			return nil, err
		}
		conditions = append(conditions, c)
	}
	return conditions, nil
}

func parseCondition(text string) (Condition, error) {
	wrong := fmt.Errorf("condition %q: write a column, one of %s and a value, such as murmur=Absent", text, strings.Join(operators, " "))
	at := strings.IndexAny(text, "!<>=")
	if at < 1 {
		return Condition{}, wrong
	}
	for _, operator := range operators {
		value, ok := strings.CutPrefix(text[at:], operator)
		if !ok {
			continue
		}
		c := Condition{Column: strings.TrimSpace(text[:at]), Operator: operator, Value: strings.TrimSpace(value)}
		x, err := strconv.ParseFloat(c.Value, 64)
		c.number, c.isNumber = x, err == nil
		if err != nil && operator != "=" && operator != "!=" {
			return c, fmt.Errorf("condition %q: %q is not a number, and %s compares numbers", text, c.Value, operator)
		}
		return c, nil
	}
	return Condition{}, wrong
}

// String returns the condition as ParseConditions reads it.
func (c *Condition) String() string { return c.Column + c.Operator + c.Value }

// holds reports whether a value, empty for a null, fulfils the condition.
func (c *Condition) holds(value string) bool {
	var x float64
	numbers := c.isNumber
	if numbers {
		var err error
		x, err = strconv.ParseFloat(value, 64)
		numbers = err == nil
	}
	switch c.Operator {
	case "=":
		return value == c.Value || numbers && x == c.number
	case "!=":
		return value != c.Value && !(numbers && x == c.number)
	case "<":
		return numbers && x < c.number
	case "<=":
		return numbers && x <= c.number
	case ">":
		return numbers && x > c.number
	}
	return numbers && x >= c.number
}

// Filter selects the records of a table that fulfil conditions.
type Filter[T table.Row] struct {
	tests []test[T]
}

// test is a condition on a column, with what is known of the rows so far.
type test[T table.Row] struct {
	Condition
	text      cellText[T]
	matched   bool            // by some row
	different map[string]bool // values of rows that do not match =, a bounded number
}

// inWords writes values for a reader.
var inWords = &textRule{safe: exactly.safe, digits: 4}

// NewFilter returns the filter of all conditions over the columns of a table in dir.
func NewFilter[T table.Row](dir string, r *table.Reader[T], conditions []Condition) (*Filter[T], error) {
	return cellsOf(dir, r).filter(conditions)
}

func (c *cells[T]) filter(conditions []Condition) (*Filter[T], error) {
	f := &Filter[T]{}
	for i := range conditions {
		text, err := c.column(conditions[i].Column)
		if err != nil {
			return nil, fmt.Errorf("condition %s: %w", &conditions[i], err)
		}
		f.tests = append(f.tests, test[T]{Condition: conditions[i], text: text, different: map[string]bool{}})
	}
	return f, nil
}

// Holds reports whether a record fulfils all conditions.
func (f *Filter[T]) Holds(record *table.Record[T]) bool {
	all := true
	for i := range f.tests {
		c := &f.tests[i]
		value := c.text(record, exactly)
		if c.holds(value) {
			c.matched = true
			continue
		}
		const most = 1000
		if all = false; c.Operator == "=" && value != "" && len(c.different) < most {
			c.different[strings.Clone(value)] = true
		}
	}
	return all
}

// Values returns what a record has in the columns of the conditions, as "murmur
// Absent", each column once.
func (f *Filter[T]) Values(record *table.Record[T]) []string {
	var values []string
	for i := range f.tests {
		value := f.tests[i].Column + " " + cmp.Or(f.tests[i].text(record, inWords), "not known")
		if !slices.Contains(values, value) {
			values = append(values, value)
		}
	}
	return values
}

// Err reports, when all records have passed, a condition with = that none of them
// fulfils: its value is most likely misspelt.
func (f *Filter[T]) Err() error {
	for i := range f.tests {
		c := &f.tests[i]
		if c.Operator != "=" || c.matched {
			continue
		}
		values := slices.Sorted(maps.Keys(c.different))
		if near := yamlcheck.Nearest(c.Value, values); near != "" {
			return fmt.Errorf("no row has %s: did you mean %s=%s?", &c.Condition, c.Column, near)
		}
		const most = 12
		if more := len(values) - most; more > 0 {
			values = append(values[:most], fmt.Sprintf("and %d more", more))
		}
		return fmt.Errorf("no row has %s: the values are %s", &c.Condition, strings.Join(values, ", "))
	}
	return nil
}
