package eval

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"
	"strings"

	"phonocycle/pipeline/pcg"
)

// Grouping names the properties by which recordings are grouped, as in
// "site,heart_rate": labels of the data set, and the properties below, which all
// recordings have. Scores are given by each property on its own; where a
// recording belongs to one group only, the group is the combination of all.
type Grouping []string

// Properties that all recordings have.
const (
	ByDataSet   = "data_set"
	ByPerson    = "person"
	BySite      = "site"
	ByHeartRate = "heart_rate" // the band of [HeartRateBand]
	ByReference = "reference"  // its kind: intervals or points
)

// ParseGrouping reads the names of properties, separated by commas. Whether the
// data have them, Check says.
func ParseGrouping(text string) (Grouping, error) {
	g := Grouping(strings.Split(text, ","))
	for i, name := range g {
		g[i] = strings.TrimSpace(name)
		if g[i] == "" {
			return nil, fmt.Errorf("grouping %q: a name is empty: give names separated by commas, such as site,heart_rate", text)
		}
		if slices.Contains(g[:i], g[i]) {
			return nil, fmt.Errorf("grouping %q: %s is named twice", text, g[i])
		}
	}
	return g, nil
}

// Check returns an error that lists the valid names if a property of g is neither
// one that all recordings have nor one of the labels.
func (g Grouping) Check(labels []string) error {
	valid := append([]string{ByDataSet, ByPerson, BySite, ByHeartRate, ByReference}, labels...)
	for _, name := range g {
		if !slices.Contains(valid, name) {
			return fmt.Errorf("no recording has a property %q: valid names are %s", name, strings.Join(valid, ", "))
		}
	}
	return nil
}

// Of returns the group of a recording whose properties value gives: their values,
// separated by ", ". It is empty where one of them is.
func (g Grouping) Of(value func(name string) string) string {
	values := make([]string, len(g))
	for i, name := range g {
		if values[i] = value(name); values[i] == "" {
			return ""
		}
	}
	return strings.Join(values, ", ")
}

// String returns g as ParseGrouping reads it.
func (g Grouping) String() string { return strings.Join(g, ",") }

// rateBands are the borders, in beats per minute of the reference, between the
// bands of heart rate by which scores are also given. A band holds its lower
// border. They follow no guideline: steps of 20 over the range that children
// and adults at rest cover (Fleming et al. 2011,
// doi:10.1016/S0140-6736(10)62226-X).
var rateBands = [...]float64{60, 80, 100, 120, 140}

// NotStated stands for the value of a label that is empty.
const NotStated = "not stated"

// HeartRateBand names the band of a heart rate in beats per minute.
func HeartRateBand(rate Ratio) string {
	if rate.Null() {
		return NotStated
	}
	i, found := slices.BinarySearch(rateBands[:], float64(rate))
	if found {
		i++
	}
	return bandNames()[i]
}

// bandNames lists the names of all bands, ascending.
func bandNames() []string {
	last := len(rateBands) - 1
	names := []string{fmt.Sprintf("below %g", rateBands[0])}
	for i := range last {
		names = append(names, fmt.Sprintf("%g to %g", rateBands[i], rateBands[i+1]))
	}
	return append(names, fmt.Sprintf("%g and above", rateBands[last]), NotStated)
}

// valuesOf returns the strata to which a result belongs: those of the properties
// in g or, where g is nil, of all but the person.
func (g Grouping) valuesOf(r *Result) []pcg.Label {
	all := append(slices.Clone(r.Strata),
		pcg.Label{Name: ByHeartRate, Value: HeartRateBand(r.Measures.Reference.Rate())},
		pcg.Label{Name: ByReference, Value: string(r.Kind)})
	if g != nil {
		all = append(all, pcg.Label{Name: ByPerson, Value: r.Person})
	}
	var values []pcg.Label
	for _, l := range all {
		if g != nil && !slices.Contains(g, l.Name) {
			continue
		}
		if l.Value == "" {
			l.Value = NotStated
		}
		values = append(values, l)
	}
	return values
}

// Labels returns the strata to which the result belongs by the labels of its recording,
// its heart rate and its kind of reference.
func (r *Result) Labels() []pcg.Label { return Grouping(nil).valuesOf(r) }

// maxStratumValues is the number of different values up to which a label is
// used for strata. A label with more, such as a height, is a measurement.
const maxStratumValues = 20

// strata numbers label values in the order in which they are met, and the sets
// of them that recordings have.
type strata struct {
	number map[pcg.Label]int32
	values []pcg.Label
	count  map[string]int // values of each label

	setNumber map[string]int32 // by the numbers of the set
	sets      [][]int32
	key       []byte
}

// set returns the number of the set of values. Unless labels are wanted by name,
// no more values are counted of one that has too many.
func (s *strata) set(values []pcg.Label, wanted bool) int32 {
	if s.number == nil {
		s.number, s.count, s.setNumber = map[pcg.Label]int32{}, map[string]int{}, map[string]int32{}
	}
	s.key = s.key[:0]
	for _, v := range values {
		n, ok := s.number[v]
		if !ok {
			if !wanted && s.count[v.Name] > maxStratumValues {
				continue
			}
			n = int32(len(s.values))
			s.number[v] = n
			s.values = append(s.values, v)
			s.count[v.Name]++
		}
		s.key = binary.LittleEndian.AppendUint32(s.key, uint32(n))
	}
	n, ok := s.setNumber[string(s.key)]
	if !ok {
		n = int32(len(s.sets))
		set := make([]int32, 0, len(s.key)/4)
		for k := 0; k < len(s.key); k += 4 {
			set = append(set, int32(binary.LittleEndian.Uint32(s.key[k:])))
		}
		s.setNumber[string(s.key)] = n
		s.sets = append(s.sets, set)
	}
	return n
}

// ordered returns the strata to report: labels in the order in which they were
// met, or as wanted names them, their values sorted. Unless wanted, a label
// with one value is left out, since it divides nothing, and one with too many
// is named apart.
func (s *strata) ordered(wanted Grouping) (numbers []int32, tooMany []string) {
	var names []string
	byName := make(map[string][]int32)
	for n, v := range s.values {
		if byName[v.Name] == nil {
			names = append(names, v.Name)
		}
		byName[v.Name] = append(byName[v.Name], int32(n))
	}
	if wanted != nil {
		names = wanted
	}
	for _, name := range names {
		of := byName[name]
		switch {
		case wanted == nil && len(of) > maxStratumValues:
			tooMany = append(tooMany, name)
		case wanted != nil || len(of) > 1:
			s.sortValues(name, of)
			numbers = append(numbers, of...)
		}
	}
	return numbers, tooMany
}

// sortValues sorts the strata of one label: heart-rate bands ascending, others by
// name, and those not stated last.
func (s *strata) sortValues(name string, numbers []int32) {
	last := []string{NotStated}
	if name == ByHeartRate {
		last = bandNames()
	}
	slices.SortFunc(numbers, func(a, b int32) int {
		x, y := s.values[a].Value, s.values[b].Value
		return cmp.Or(slices.Index(last, x)-slices.Index(last, y), strings.Compare(x, y))
	})
}
