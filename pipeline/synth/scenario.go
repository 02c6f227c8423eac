package synth

import (
	_ "embed"
	"fmt"
	"regexp"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/yamlcheck"
)

// A Scenario is a table of people and of the recordings made of them, from
// which Write makes a data set. Its YAML form is strict: a key that does not
// exist, or a value that cannot be rendered, is an error with file and line.
type Scenario struct {
	Name   string   `yaml:"name"` // of the layout file that Write leaves beside the recordings
	Title  string   `yaml:"title"`
	Rate   int      `yaml:"rate"` // sampling rate in hertz
	People []Person `yaml:"people"`

	document *yamlcheck.Document // nil if it was not read from a file
}

// maxScenarioBytes bounds a scenario: a hundred thousand people at a hundred
// bytes each.
const maxScenarioBytes = 10 << 20

// LoadScenario reads a scenario from a file.
func LoadScenario(path string) (*Scenario, error) {
	content, err := yamlcheck.ReadFile(path, maxScenarioBytes)
	if err != nil {
		return nil, fmt.Errorf("scenario %s: %w", path, err)
	}
	return ParseScenario(path, content)
}

// ParseScenario reads a scenario; name stands in errors for the file.
func ParseScenario(name string, content []byte) (*Scenario, error) {
	s := &Scenario{}
	var err error
	if s.document, err = yamlcheck.Decode(name, content, maxScenarioBytes, s); err != nil {
		return nil, fmt.Errorf("scenario %w", err)
	}
	if err := s.Check(); err != nil {
		return nil, err
	}
	return s, nil
}

//go:embed people.yaml
var demoPeople []byte

// Demo returns the scenario of the demonstration: a day of screening in a
// village that does not exist.
func Demo() *Scenario {
	s, err := ParseScenario("people.yaml", demoPeople)
	if err != nil {
		panic(err) // embedded, and read by a test
	}
	return s
}

var (
	nameForm = regexp.MustCompile(`^[a-z][a-z0-9-]*$`)
	idForm   = regexp.MustCompile(`^[A-Za-z0-9]+$`)
)

// Check reports the first person or recording that cannot be rendered.
func (s *Scenario) Check() error {
	if !nameForm.MatchString(s.Name) {
		return s.errorf("$.name", "name %q: use small letters, digits and hyphens", s.Name)
	}
	if s.Rate < MinSamplingRate || s.Rate > audio.MaxRate {
		return s.errorf("$.rate", "rate %d Hz is not between %d and %d", s.Rate, MinSamplingRate, audio.MaxRate)
	}
	if len(s.People) == 0 {
		return s.errorf("$.people", "no people: at least one is needed")
	}
	names := map[string]bool{} // of people and recordings
	for i := range s.People {
		if err := s.checkPerson(i, names); err != nil {
			return err
		}
	}
	return nil
}

// checkPerson checks person i and the recordings, and adds their names.
func (s *Scenario) checkPerson(i int, names map[string]bool) error {
	p, key := &s.People[i], personKey(i)
	for _, id := range p.ids() {
		if !idForm.MatchString(id) {
			return s.errorf(key, "id %q: use letters and digits, since it becomes part of file names", id)
		}
		if names[id] {
			return s.errorf(key, "id %q is used twice", id)
		}
		names[id] = true
	}
	if err := p.check(); err != nil {
		return s.errorf(key, "person %s: %w", p.ID, err)
	}
	for j := range p.Recordings {
		t := &p.Recordings[j]
		name := p.recordingID(t)
		if err := t.check(p); err != nil {
			return s.errorf(takeKey(i, j), "recording %s: %w", name, err)
		}
		if names[name] {
			return s.errorf(takeKey(i, j), "recording %s is there twice: number them with take", name)
		}
		names[name] = true
		heart, err := p.heart(t, 0)
		if err == nil {
			err = heart.check(s.Rate)
		}
		if err != nil {
			return s.errorf(key, "person %s: %w", p.ID, err)
		}
	}
	return nil
}

func personKey(i int) string  { return fmt.Sprintf("$.people[%d]", i) }
func takeKey(i, j int) string { return fmt.Sprintf("$.people[%d].recordings[%d]", i, j) }

// errorf returns an error with the place of a key in the file, or with the
// scenario's name if it was not read from a file.
func (s *Scenario) errorf(key, format string, args ...any) error {
	place := s.Name
	if s.document != nil {
		place = s.document.Place(key)
	}
	return fmt.Errorf("scenario %s: %w", place, fmt.Errorf(format, args...))
}
