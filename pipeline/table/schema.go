package table

import (
	"encoding/json"
	"fmt"
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
		c.storage = storageOf(typ, t, f.Name)
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

func storageOf(typ, row reflect.Type, field string) storage {
	if typ == reflect.TypeFor[time.Duration]() {
		return storeSeconds
	}
	switch typ.Kind() {
	case reflect.String:
		return storeString
	case reflect.Float64:
		return storeFloat
	case reflect.Int32:
		return storeInt32
	case reflect.Int, reflect.Int64:
		return storeInt64
	case reflect.Bool:
		return storeBool
	}
	panic(fmt.Sprintf("table: %v.%s: no column holds the type %v", row, field, typ))
}

// dynamicColumns returns the columns that extra describes, each nullable but for
// vectors.
func dynamicColumns(extra []Column) ([]column, error) {
	columns := make([]column, len(extra))
	var slots [len(kindNames)]int
	for i, e := range extra {
		c := column{Column: e, field: -1, nullable: true}
		switch e.Kind {
		case Float:
			c.storage = storeFloat
		case Category:
			c.storage = storeCategory
		case FloatVector:
			c.storage, c.nullable = storeFloatVector, false
		case ByteVector:
			c.storage, c.nullable = storeByteVector, false
		default:
			return nil, fmt.Errorf("column %q: unknown kind %v", e.Name, e.Kind)
		}
		c.slot = slots[e.Kind]
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
		vector := c.storage == storeFloatVector || c.storage == storeByteVector
		switch {
		case vector != (c.Length != 0) || c.Length < 0 || c.Length > maxVector:
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

func (c *column) arrowType() arrow.DataType {
	switch c.storage {
	case storeString:
		return arrow.BinaryTypes.String
	case storeCategory:
		return &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int32, ValueType: arrow.BinaryTypes.String}
	case storeFloat, storeSeconds:
		return arrow.PrimitiveTypes.Float64
	case storeInt32:
		return arrow.PrimitiveTypes.Int32
	case storeInt64:
		return arrow.PrimitiveTypes.Int64
	case storeBool:
		return arrow.FixedWidthTypes.Boolean
	case storeFloatVector:
		return arrow.FixedSizeListOf(int32(c.Length), arrow.PrimitiveTypes.Float32)
	case storeByteVector:
		return arrow.FixedSizeListOf(int32(c.Length), arrow.PrimitiveTypes.Uint8)
	}
	panic(fmt.Sprintf("table: column %q: storage %d", c.Name, c.storage))
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

// Keys of the key/value metadata of a file.
const (
	keyTable   = "phonocycle.table"
	keyVersion = "phonocycle.table_version"
	keyTool    = "phonocycle.tool"
	keyConfig  = "phonocycle.config"
	keyColumns = "phonocycle.columns"
	keyWarning = "phonocycle.warnings"
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
}

func arrowSchema(info Info, columns []column, meta Metadata) (*arrow.Schema, error) {
	fields := make([]arrow.Field, len(columns))
	docs := make([]columnDoc, len(columns))
	for i := range columns {
		c := &columns[i]
		fields[i] = arrow.Field{Name: c.Name, Type: c.arrowType(), Nullable: c.nullable, Metadata: c.metadata()}
		docs[i] = columnDoc{c.Name, c.Unit, c.Doc, c.Source, c.Range, c.Null, c.Length}
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
