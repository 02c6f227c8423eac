package option

import (
	"errors"
	"testing"
)

// sample has an option of each kind of value.
type sample struct {
	real  float64
	count int
	seed  uint64
	flag  bool
	word  string
	list  []int
}

func (s *sample) Options() []Option {
	return []Option{
		{Key: "real", Value: &s.real, Low: 0.5, High: Below(2), Limit: "0.5 to below two", Paper: 1, Source: FromMemory("Ross 1908", "low")},
		{Key: "count", Value: &s.count, Low: 1, High: 9, Paper: "not stated", Source: Source{Paper: "Ross 1908", Origin: Read}, Rule: func() error {
			if s.count == 7 {
				return errors.New("seven is taken")
			}
			return nil
		}},
		{Key: "seed", Value: &s.seed, Paper: 4}, {Key: "flag", Value: &s.flag, Paper: true},
		Under("nested", []Option{{Key: "word", Value: &s.word, Words: []string{"a", "b"}, Paper: "a"}})[0],
		{Key: "list", Value: &s.list, Low: 1, High: 4},
	}
}

func TestOptions(t *testing.T) {
	s := &sample{1, 2, 3, true, "a", []int{1, 4}}
	if err := Check(s.Options()); err != nil {
		t.Error(err)
	}
	text, err := JSON(s)
	if want := `{"real":1,"count":2,"seed":3,"flag":true,"nested.word":"a","list":[1,4]}`; err != nil || string(text) != want {
		t.Errorf("%s, %v, want %s", text, err, want)
	}
	if text, err := JSON(new(None)); err != nil || string(text) != "{}" {
		t.Errorf("no options: %s, %v", text, err)
	}
	ranges := []string{"0.5 to below two", "1 to 9", "a whole number from 0", "true or false", "a or b", "each 1 to 4"}
	differs := []bool{false, false, true, false, false, false}
	for i, o := range s.Options() {
		if o.Range() != ranges[i] || o.Differs() != differs[i] {
			t.Errorf("%s: accepted %s, differs %v", o.Key, o.Range(), o.Differs())
		}
	}
	for want, c := range map[string]sample{
		"real is 2: want 0.5 to below two": {2, 2, 3, true, "a", nil}, "count is 0: want 1 to 9": {1, 0, 3, true, "a", nil}, "count: seven is taken": {1, 7, 3, true, "a", nil},
		`nested.word is "c": want a or b`: {1, 2, 3, true, "c", nil}, "list is [1 5]: want each 1 to 4": {1, 2, 3, true, "a", []int{1, 5}},
	} {
		if err := Check(c.Options()); err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
	for want, s := range map[string]Source{
		"Ross 1908, from memory, low confidence": FromMemory("Ross 1908", "low"), "Ross 1908, read": {Paper: "Ross 1908", Origin: Read}, "a choice of this project": {},
	} {
		if s.String() != want {
			t.Errorf("%s, want %s", s, want)
		}
	}
}
