package table

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"phonocycle/pipeline/pcg"
)

// Kind is the type of a dynamic column.
type Kind uint8

// The kinds of dynamic columns. A vector cannot be missing, because a missing
// list of fixed size cannot be read with Arrow 17 for Go; a vector that is missing in the file of
// another program is read as nil.
const (
	Float       Kind = iota // 64-bit float; NaN is null
	Category                // UTF-8 string of few distinct values, dictionary-encoded; "" is null
	FloatVector             // list of Length 32-bit floats, never missing
	ByteVector              // list of Length unsigned bytes, never missing
)

var kindNames = [...]string{"float", "category", "float vector", "byte vector"}

// String returns the name of k as it stands in error messages.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// Column describes a column that is not a field of the row's struct: a label of
// the data set or a feature of the catalogue.
type Column struct {
	Name, Unit, Doc string
	Source          string // publication behind a feature; empty for the other columns
	Range           string // the values that a feature can have
	Null            string // what a missing value of a feature means
	Kind            Kind
	Number          bool // of a Category: all values are numbers, which the file holds as 64-bit floats
	Length          int  // number of elements of a vector; 0 for the other kinds
}

// NumberText returns a number as a Category with numbers has it, with the fewest
// digits that give it back.
func NumberText(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// parseNumber is the inverse of NumberText.
func parseNumber(text string) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) {
		return 0, fmt.Errorf("%.100q is not a number", text)
	}
	return x, nil
}

// maxVector bounds the elements of one vector.
const maxVector = 1 << 24

// DynamicValues are the values of the dynamic columns of one row, kind by kind in
// the order of the kinds, each in the order of the columns of that kind.
type DynamicValues struct {
	Floats  []float64
	Labels  []string
	Vectors [][]float32
	Bytes   [][]uint8
}

// Clone returns a deep copy of c.
func (c DynamicValues) Clone() DynamicValues {
	c.Floats, c.Labels = slices.Clone(c.Floats), slices.Clone(c.Labels)
	c.Vectors, c.Bytes = slices.Clone(c.Vectors), slices.Clone(c.Bytes)
	for i, v := range c.Vectors {
		c.Vectors[i] = slices.Clone(v)
	}
	for i, v := range c.Bytes {
		c.Bytes[i] = slices.Clone(v)
	}
	return c
}

// maxExact bounds the times that seconds hold to the nanosecond.
const maxExact time.Duration = 1 << 51

// Seconds returns d in seconds, correctly rounded: the number nearest to d/10⁹.
// Duration(Seconds(d)) = d for every |d| < 2⁵¹ ns, 26 days.
func Seconds(d time.Duration) float64 { return float64(d) / 1e9 }

// Duration is the inverse of Seconds. NaN, infinities and times beyond 2⁶² ns
// (146 years) are errors.
func Duration(s float64) (time.Duration, error) {
	if !(math.Abs(s) < 1<<62/1e9) {
		return 0, fmt.Errorf("%v s is not a time", s)
	}
	return pcg.FromSeconds(s), nil
}
