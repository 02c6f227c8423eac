package eval

import (
	"encoding/binary"
	"fmt"
	"slices"

	"phonocycle/pipeline/pcg"
)

// RateBands are the borders, in beats per minute of the reference, between the
// bands of heart rate by which scores are also given. A band holds its lower
// border. They follow no guideline: steps of 20 over the range that children
// and adults at rest cover (Fleming et al. 2011,
// doi:10.1016/S0140-6736(10)62226-X).
var RateBands = [...]float64{60, 80, 100, 120, 140}

// Strata that every data set has.
const (
	rateStratum = "heart_rate"
	kindStratum = "reference"
)

// MaxStratumValues is the number of different values up to which a label is
// used for strata. A label with more, such as a height, measures and does not
// divide.
const MaxStratumValues = 20

// notStated stands for the value of a label that is empty.
const notStated = "not stated"

// rateBand names the band of a heart rate.
func rateBand(rate Ratio) string {
	last := len(RateBands) - 1
	switch {
	case rate.Null():
		return notStated
	case float64(rate) < RateBands[0]:
		return fmt.Sprintf("below %g", RateBands[0])
	case float64(rate) >= RateBands[last]:
		return fmt.Sprintf("%g and above", RateBands[last])
	}
	i := 0
	for float64(rate) >= RateBands[i+1] {
		i++
	}
	return fmt.Sprintf("%g to %g", RateBands[i], RateBands[i+1])
}

// rateBandOrder lists the names of all bands, ascending.
func rateBandOrder() []string {
	names := []string{rateBand(0)}
	for _, b := range RateBands {
		names = append(names, rateBand(Ratio(b)))
	}
	return append(names, notStated)
}

// labelValue is a stratum as a recording names it.
type labelValue struct{ name, value string }

func (l labelValue) String() string { return l.name + "=" + l.value }

// valuesOf returns the strata in which a result counts: its labels, the band of
// its heart rate and the kind of its reference.
func valuesOf(r *Result) []labelValue {
	values := make([]labelValue, 0, len(r.Strata)+2)
	for _, l := range r.Strata {
		values = append(values, stated(l))
	}
	values = append(values, labelValue{rateStratum, rateBand(r.Measures.Reference.Rate())})
	return append(values, labelValue{kindStratum, string(r.Kind)})
}

func stated(l pcg.Label) labelValue {
	if l.Value == "" {
		return labelValue{l.Name, notStated}
	}
	return labelValue{l.Name, l.Value}
}

// strata numbers label values in the order in which they are met, and the sets
// of them that recordings have.
type strata struct {
	number map[labelValue]int32
	values []labelValue
	count  map[string]int // values of each label

	setNumber map[string]int32 // by the numbers of the set
	sets      [][]int32
	key       []byte
}

// set returns the number of the set of values. Of a label that is not wanted and
// has too many values to divide by, no more values are counted.
func (s *strata) set(values []labelValue, wanted []string) int32 {
	if s.number == nil {
		s.number, s.count, s.setNumber = map[labelValue]int32{}, map[string]int{}, map[string]int32{}
	}
	s.key = s.key[:0]
	for _, v := range values {
		n, ok := s.number[v]
		if !ok {
			if wanted == nil && s.count[v.name] > MaxStratumValues {
				continue
			}
			n = int32(len(s.values))
			s.number[v] = n
			s.values = append(s.values, v)
			s.count[v.name]++
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
// is named apart. Wanted labels that were never met are named as missing.
func (s *strata) ordered(wanted []string) (numbers []int32, tooMany, missing []string) {
	var met []string
	byName := make(map[string][]int32)
	for n, v := range s.values {
		if byName[v.name] == nil {
			met = append(met, v.name)
		}
		byName[v.name] = append(byName[v.name], int32(n))
	}
	names := met
	if wanted != nil {
		names = wanted
	}
	for _, name := range names {
		of := byName[name]
		switch {
		case len(of) == 0:
			missing = append(missing, name)
		case wanted == nil && len(of) > MaxStratumValues:
			tooMany = append(tooMany, name)
		case wanted != nil || len(of) > 1:
			s.sortValues(name, of)
			numbers = append(numbers, of...)
		}
	}
	return numbers, tooMany, missing
}

// sortValues sorts the strata of one label: heart-rate bands ascending, others
// by name.
func (s *strata) sortValues(name string, numbers []int32) {
	bands := rateBandOrder()
	slices.SortFunc(numbers, func(a, b int32) int {
		va, vb := s.values[a].value, s.values[b].value
		if name == rateStratum {
			return slices.Index(bands, va) - slices.Index(bands, vb)
		}
		return compareValues(va, vb)
	})
}

// compareValues sorts values by name, those not stated last.
func compareValues(a, b string) int {
	switch {
	case a == b:
		return 0
	case a == notStated:
		return 1
	case b == notStated || a < b:
		return -1
	}
	return 1
}
