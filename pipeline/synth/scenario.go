package synth

import (
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"

	"github.com/goccy/go-yaml"

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

	file string // where it was read, for errors
}

// maxScenarioBytes bounds a scenario: a hundred thousand people at a hundred
// bytes a row.
const maxScenarioBytes = 10 << 20

// LoadScenario reads a scenario from a file.
func LoadScenario(path string) (*Scenario, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("scenario: %w", err)
	}
	defer f.Close()
	content, err := io.ReadAll(io.LimitReader(f, maxScenarioBytes+1))
	if err != nil {
		return nil, fmt.Errorf("scenario: %w", err)
	}
	return ParseScenario(path, content)
}

// ParseScenario reads a scenario; name stands in errors for the file.
func ParseScenario(name string, content []byte) (*Scenario, error) {
	if _, err := yamlcheck.Parse(name, content, maxScenarioBytes); err != nil {
		return nil, fmt.Errorf("scenario %w", err)
	}
	s := &Scenario{file: name}
	if err := yaml.UnmarshalWithOptions(content, s, yaml.Strict()); err != nil {
		var at yaml.Error
		if errors.As(err, &at) && at.GetToken() != nil {
			return nil, fmt.Errorf("scenario %s:%d: %s", name, at.GetToken().Position.Line, at.GetMessage())
		}
		return nil, fmt.Errorf("scenario %s: %w", name, err)
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

// Check reports the first row that no recording can be made of.
func (s *Scenario) Check() error {
	if !nameForm.MatchString(s.Name) {
		return s.errorf(1, "name %q: use small letters, digits and hyphens", s.Name)
	}
	if s.Rate < MinSamplingRate || s.Rate > audio.MaxRate {
		return s.errorf(1, "rate %d Hz is not between %d and %d", s.Rate, MinSamplingRate, audio.MaxRate)
	}
	if len(s.People) == 0 {
		return s.errorf(1, "no people")
	}
	taken := map[string]int{} // line of each id and each recording
	for i := range s.People {
		if err := s.checkPerson(&s.People[i], taken); err != nil {
			return err
		}
	}
	return nil
}

// checkPerson checks one row and its recordings, and enters their names into
// taken.
func (s *Scenario) checkPerson(p *Person, taken map[string]int) error {
	for _, id := range p.ids() {
		if !idForm.MatchString(id) {
			return s.errorf(p.line, "id %q: use letters and digits, since it becomes part of file names", id)
		}
		if at, ok := taken[id]; ok {
			return s.errorf(p.line, "id %q stands in line %d already", id, at)
		}
		taken[id] = p.line
	}
	if err := p.check(); err != nil {
		return s.errorf(p.line, "person %s: %w", p.ID, err)
	}
	for j := range p.Recordings {
		t := &p.Recordings[j]
		name := p.recordingID(t)
		if err := t.check(p); err != nil {
			return s.errorf(t.line, "recording %s: %w", name, err)
		}
		if at, ok := taken[name]; ok {
			return s.errorf(t.line, "recording %s stands in line %d already: number them with take", name, at)
		}
		taken[name] = t.line
		heart, err := p.heart(t, 0)
		if err == nil {
			err = heart.check(s.Rate)
		}
		if err != nil {
			return s.errorf(p.line, "person %s: %w", p.ID, err)
		}
	}
	return nil
}

// errorf returns an error with the place in the file, or with the scenario's
// name if it was not read from one.
func (s *Scenario) errorf(line int, format string, args ...any) error {
	err := fmt.Errorf(format, args...)
	if s.file == "" {
		return fmt.Errorf("scenario %s: %w", s.Name, err)
	}
	return fmt.Errorf("scenario %s:%d: %w", s.file, line, err)
}
