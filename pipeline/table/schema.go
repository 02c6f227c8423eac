package table

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
)

// storage is the type of a column in the file.
type storage uint8

const (
	storeString storage = iota
	storeCategory
	storeFloat
	storeInt32
	storeInt64
	storeBool
	storeSeconds
	storeNumber // a Category whose values are numbers
	storeFloatVector
	storeByteVector
)

// column is one column of a file: a field of the row's struct, or the slot of a
// dynamic column among the DynamicValues of its kind.
type column struct {
	Column
	storage  storage
	field    int // index of the struct's field, or -1
	pointer  bool
	nullable bool
	optional bool
	slot     int // index into the slice of DynamicValues; fields only: -1
}

// fixedColumns returns the columns that the tags of the struct type t describe.
// A tag that makes no sense is a mistake in this program, and panics.
func fixedColumns(t reflect.Type) []column {
	var columns []column
	for i := range t.NumField() {
		f := t.Field(i)
		tag, ok := f.Tag.Lookup("table")
		if !ok {
			continue
		}
		name, options, _ := strings.Cut(tag, ",")
		c := column{
			Column: Column{Name: name, Unit: f.Tag.Get("unit"), Doc: f.Tag.Get("doc")},
			field:  i,
			slot:   -1,
		}
		typ := f.Type
		if typ.Kind() == reflect.Pointer {
			c.pointer, c.nullable, typ = true, true, typ.Elem()
		}
		if c.storage, ok = fieldStorage[typ]; !ok {
			panic(fmt.Sprintf("table: %v.%s: no column holds the type %v", t, f.Name, typ))
		}
		for option := range strings.SplitSeq(options, ",") {
			switch {
			case option == "":
			case option == "null" && !c.pointer && (c.storage == storeString || c.storage == storeFloat || c.storage == storeCategory):
				c.nullable = true
			case option == "category" && c.storage == storeString && !c.pointer:
				c.storage = storeCategory
			case option == "optional":
				c.optional = true
			default:
				panic(fmt.Sprintf("table: %v.%s: option %q of the tag does not fit the type %v", t, f.Name, option, f.Type))
			}
		}
		columns = append(columns, c)
	}
	return columns
}

// Fields returns the columns that are fields of the rows of type T, with their units
// and definitions.
func Fields[T Row]() []Column {
	fixed := fixedColumns(reflect.TypeFor[T]())
	columns := make([]Column, len(fixed))
	for i, c := range fixed {
		columns[i] = c.Column
	}
	return columns
}

// fieldStorage is the storage of a field by its type.
var fieldStorage = map[reflect.Type]storage{
	reflect.TypeFor[string]():        storeString,
	reflect.TypeFor[float64]():       storeFloat,
	reflect.TypeFor[int32]():         storeInt32,
	reflect.TypeFor[int]():           storeInt64,
	reflect.TypeFor[int64]():         storeInt64,
	reflect.TypeFor[bool]():          storeBool,
	reflect.TypeFor[time.Duration](): storeSeconds,
}

// kindStorage is the storage of a dynamic column by its kind.
var kindStorage = [...]storage{Float: storeFloat, Category: storeCategory, FloatVector: storeFloatVector, ByteVector: storeByteVector}

// dynamicColumns returns the columns that extra describes, each nullable but for
// vectors.
func dynamicColumns(extra []Column) ([]column, error) {
	columns := make([]column, len(extra))
	var slots [len(kindNames)]int
	for i, e := range extra {
		if int(e.Kind) >= len(kindStorage) {
			return nil, fmt.Errorf("column %q: unknown kind %v", e.Name, e.Kind)
		}
		c := column{Column: e, storage: kindStorage[e.Kind], field: -1, slot: slots[e.Kind]}
		if e.Number {
			c.storage = storeNumber
		}
		c.nullable = !c.vector()
		slots[e.Kind]++
		columns[i] = c
	}
	return columns, nil
}

// checkColumns reports the first column without a name, with a name that another
// column has or with a length that does not fit its kind.
func checkColumns(columns []column) error {
	seen := make(map[string]bool, len(columns))
	for i, c := range columns {
		switch {
		case c.Number && c.Kind != Category:
			return fmt.Errorf("column %q: a %v cannot be marked as a number", c.Name, c.Kind)
		case c.vector() != (c.Length != 0) || c.Length < 0 || c.Length > maxVector:
			return fmt.Errorf("column %q: length %d does not fit a %v", c.Name, c.Length, c.Kind)
		case c.Name == "":
			return fmt.Errorf("column %d has no name", i)
		case strings.ContainsRune(c.Name, '.'):
			return fmt.Errorf("column %q: a full stop separates the levels of nested columns; use an underscore", c.Name)
		case seen[c.Name]:
			return fmt.Errorf("column %q occurs twice; rename the label or the feature", c.Name)
		}
		seen[c.Name] = true
	}
	return nil
}

// metadata returns the metadata of the field: unit and definition of every column,
// and of a feature all that its catalogue says.
func (c *column) metadata() arrow.Metadata {
	keys, values := []string{"unit", "doc"}, []string{c.Unit, c.Doc}
	for _, more := range [...]struct{ key, value string }{{"source", c.Source}, {"range", c.Range}, {"null", c.Null}} {
		if more.value != "" {
			keys, values = append(keys, more.key), append(values, more.value)
		}
	}
	return arrow.NewMetadata(keys, values)
}

// arrowTypes are the types of columns or, of vectors, of their elements.
var arrowTypes = [...]arrow.DataType{
	storeString:      arrow.BinaryTypes.String,
	storeCategory:    &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int32, ValueType: arrow.BinaryTypes.String},
	storeFloat:       arrow.PrimitiveTypes.Float64,
	storeInt32:       arrow.PrimitiveTypes.Int32,
	storeInt64:       arrow.PrimitiveTypes.Int64,
	storeBool:        arrow.FixedWidthTypes.Boolean,
	storeSeconds:     arrow.PrimitiveTypes.Float64,
	storeNumber:      arrow.PrimitiveTypes.Float64,
	storeFloatVector: arrow.PrimitiveTypes.Float32,
	storeByteVector:  arrow.PrimitiveTypes.Uint8,
}

func (c *column) vector() bool { return c.storage >= storeFloatVector }

func (c *column) arrowType() arrow.DataType {
	t := arrowTypes[c.storage]
	if c.vector() {
		return arrow.FixedSizeListOf(int32(c.Length), t)
	}
	return t
}

// valueIn returns the value of the column's field in a row, behind its pointer,
// and whether it is missing.
func (c *column) valueIn(row reflect.Value) (v reflect.Value, missing bool) {
	v = row.Field(c.field)
	switch {
	case c.pointer:
		return v.Elem(), v.IsNil()
	case !c.nullable:
		return v, false
	case c.storage == storeFloat:
		return v, math.IsNaN(v.Float())
	}
	return v, v.Len() == 0
}

// missing returns the value that stands for a missing one in a type t.
func (c *column) missing(t reflect.Type) reflect.Value {
	if c.storage == storeFloat && c.nullable && !c.pointer {
		return reflect.ValueOf(math.NaN())
	}
	return reflect.Zero(t)
}

// Metadata is what a file says about its making.
type Metadata struct {
	Tool     string   // name and version of the tool
	Config   string   // digest of the configuration
	Warnings []string // what must be known before the table is used

	// Read from a file and ignored on writing, where the row's type tells them.
	Table        string
	TableVersion int
}

// Keys of the key/value metadata of a file; see also keyDigest.
const (
	keyPrefix  = "phonocycle." // tells the files of this program from others
	keyTable   = keyPrefix + "table"
	keyVersion = keyPrefix + "table_version"
	keyTool    = keyPrefix + "tool"
	keyConfig  = keyPrefix + "config"
	keyColumns = keyPrefix + "columns"
	keyWarning = keyPrefix + "warnings"
)

// columnDoc is an element of the JSON under keyColumns.
type columnDoc struct {
	Name   string `json:"name"`
	Unit   string `json:"unit"`
	Doc    string `json:"doc"`
	Source string `json:"source,omitempty"`
	Range  string `json:"range,omitempty"`
	Null   string `json:"null,omitempty"`
	Length int    `json:"length,omitempty"` // of vectors
	Label  bool   `json:"label,omitempty"`  // what the data set says, as text or as a number
}

func arrowSchema(info Info, columns []column, meta Metadata) (*arrow.Schema, error) {
	fields := make([]arrow.Field, len(columns))
	docs := make([]columnDoc, len(columns))
	for i := range columns {
		c := &columns[i]
		fields[i] = arrow.Field{Name: c.Name, Type: c.arrowType(), Nullable: c.nullable, Metadata: c.metadata()}
		docs[i] = columnDoc{c.Name, c.Unit, c.Doc, c.Source, c.Range, c.Null, c.Length, c.field < 0 && c.Kind == Category}
	}
	described, err := json.Marshal(docs)
	if err != nil {
		return nil, err
	}
	keys := []string{keyTable, keyVersion, keyTool, keyConfig, keyColumns}
	values := []string{info.Name, strconv.Itoa(info.Version), meta.Tool, meta.Config, string(described)}
	if len(meta.Warnings) > 0 {
		list, err := json.Marshal(meta.Warnings)
		if err != nil {
			return nil, err
		}
		keys, values = append(keys, keyWarning), append(values, string(list))
	}
	m := arrow.NewMetadata(keys, values)
	return arrow.NewSchema(fields, &m), nil
}
