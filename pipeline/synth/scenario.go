package synth

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"regexp"
	"slices"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/pcg"
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

// A Person is one row of the table. What is left out is as in NewHeart.
type Person struct {
	ID       string `yaml:"id"`
	SecondID string `yaml:"second-id"` // under which some of the recordings run
	About    string `yaml:"about"`
	Age      int    `yaml:"age"` // years
	Sex      Sex    `yaml:"sex"`

	HeartRate      float64       `yaml:"heart-rate"`      // beats per minute
	Systole        string        `yaml:"systole"`         // name of a SystoleLaw; by age and sex if left out
	CycleVariation *float64      `yaml:"cycle-variation"` // standard deviation, as a fraction
	Breaths        float64       `yaml:"breaths"`         // a minute
	Swing          *float64      `yaml:"swing"`           // of the cycle with breathing, as a fraction
	Pitch          float64       `yaml:"pitch"`           // factor on all frequencies of the sounds
	ThirdSound     float64       `yaml:"third-sound"`     // gain of S3 relative to M1
	Premature      float64       `yaml:"premature"`       // probability of a beat
	Missed         float64       `yaml:"missed"`          // probability of a beat
	Murmurs        []HeardMurmur `yaml:"murmurs"`
	Recordings     []Take        `yaml:"recordings"`

	line int
}

// Sex is "female" or "male"; it chooses the regression of systole.
type Sex string

// The values of Sex.
const (
	Female Sex = "female"
	Male   Sex = "male"
)

// A HeardMurmur is a Murmur with the site where it is loudest.
type HeardMurmur struct {
	State   string  `yaml:"state"` // systole or diastole
	From    float64 `yaml:"from"`
	To      float64 `yaml:"to"` // 1 if left out
	Shape   Shape   `yaml:"shape"`
	Low     float64 `yaml:"low"`   // Hz
	High    float64 `yaml:"high"`  // Hz
	Level   float64 `yaml:"level"` // root mean square at the loudest, relative to the gain of M1
	Loudest Site    `yaml:"loudest"`
}

// A Take is one recording of a person.
type Take struct {
	Site     Site          `yaml:"site"`
	Take     int           `yaml:"take"` // counted from 1; left out of the name if left out here
	UnderID  UnderID       `yaml:"under"`
	Duration time.Duration `yaml:"duration"`

	Noise    Colour   `yaml:"noise"`
	SNR      *float64 `yaml:"snr"`    // dB; no noise if left out
	Clicks   float64  `yaml:"clicks"` // a minute
	Gain     float64  `yaml:"gain"`
	Clip     float64  `yaml:"clip"` // fraction of full scale
	Inverted bool     `yaml:"inverted"`

	File        FileKind `yaml:"file"`
	Unannotated bool     `yaml:"unannotated"` // no reference is written

	line int
}

// UnderID says which of a person's two ids a recording carries.
type UnderID string

// The values of UnderID.
const (
	UnderFirst  UnderID = ""
	UnderSecond UnderID = "second-id"
)

// FileKind says what lies where the audio should be.
type FileKind string

// The values of FileKind.
const (
	AudioFile FileKind = ""      // the recording
	EmptyFile FileKind = "empty" // nothing, as after a transfer that broke off
	TextFile  FileKind = "text"  // a note under the name of a recording
)

// MaxDuration bounds a recording of a scenario.
const MaxDuration = 10 * time.Minute

// UnmarshalYAML reads one row and remembers its line.
func (p *Person) UnmarshalYAML(node ast.Node) error {
	type row Person
	err := yaml.NodeToValue(node, (*row)(p), yaml.Strict())
	p.line = node.GetToken().Position.Line
	return err
}

// UnmarshalYAML reads one recording and remembers its line.
func (t *Take) UnmarshalYAML(node ast.Node) error {
	type row Take
	err := yaml.NodeToValue(node, (*row)(t), yaml.Strict())
	t.line = node.GetToken().Position.Line
	return err
}

// LoadScenario reads a scenario from a file.
func LoadScenario(path string) (*Scenario, error) {
	content, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("scenario: %w", err)
	}
	return ParseScenario(path, content)
}

// ParseScenario reads a scenario; name stands in errors for the file.
func ParseScenario(name string, content []byte) (*Scenario, error) {
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
	if s.Rate < MinSamplingRate || s.Rate > 192_000 {
		return s.errorf(1, "rate %d Hz is not between %d and 192000", s.Rate, MinSamplingRate)
	}
	if len(s.People) == 0 {
		return s.errorf(1, "no people")
	}
	owner := map[string]int{} // line of each id and each recording
	for i := range s.People {
		p := &s.People[i]
		for _, id := range p.ids() {
			if !idForm.MatchString(id) {
				return s.errorf(p.line, "id %q: use letters and digits, since it becomes part of file names", id)
			}
			if at, taken := owner[id]; taken {
				return s.errorf(p.line, "id %q stands in line %d already", id, at)
			}
			owner[id] = p.line
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
			if at, taken := owner[name]; taken {
				return s.errorf(t.line, "recording %s stands in line %d already: number them with take", name, at)
			}
			owner[name] = t.line
			heart, err := p.heart(t, 0)
			if err == nil {
				err = heart.check(s.Rate)
			}
			if err != nil {
				return s.errorf(p.line, "person %s: %w", p.ID, err)
			}
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

func (p *Person) ids() []string {
	if p.SecondID == "" {
		return []string{p.ID}
	}
	return []string{p.ID, p.SecondID}
}

func (p *Person) check() error {
	if p.Age < 0 || p.Age > 120 {
		return fmt.Errorf("age %d is not between 0 and 120 years", p.Age)
	}
	if p.Sex != Female && p.Sex != Male {
		return fmt.Errorf("sex %q is not %s or %s: it chooses the regression of systole", p.Sex, Female, Male)
	}
	if _, err := p.law(); err != nil {
		return err
	}
	if !(p.Pitch >= 0 && p.Pitch <= 4) {
		return fmt.Errorf("pitch %g is not a factor up to 4", p.Pitch)
	}
	if !(p.ThirdSound >= 0 && p.ThirdSound <= 2) {
		return fmt.Errorf("third-sound %g is not a gain up to 2", p.ThirdSound)
	}
	for i := range p.Murmurs {
		if m := &p.Murmurs[i]; !slices.Contains(Sites(), m.Loudest) {
			return fmt.Errorf("murmur %d: loudest %q: want one of %v", i+1, m.Loudest, Sites())
		}
	}
	if len(p.Recordings) == 0 {
		return errors.New("no recordings")
	}
	return nil
}

func (t *Take) check(p *Person) error {
	switch {
	case !slices.Contains(Sites(), t.Site):
		return fmt.Errorf("site %q: want one of %v", t.Site, Sites())
	case t.Take < 0:
		return fmt.Errorf("take %d: takes are counted from 1", t.Take)
	case t.UnderID != UnderFirst && t.UnderID != UnderSecond:
		return fmt.Errorf("under %q: want %s or nothing", t.UnderID, UnderSecond)
	case t.UnderID == UnderSecond && p.SecondID == "":
		return errors.New("under a second id, but the person has none")
	case t.Duration <= 0 || t.Duration > MaxDuration:
		return fmt.Errorf("duration %v is not between 0 and %v: write it with its unit, such as 15s", t.Duration, MaxDuration)
	case t.File != AudioFile && t.File != EmptyFile && t.File != TextFile:
		return fmt.Errorf("file %q: want %s, %s or nothing", t.File, EmptyFile, TextFile)
	case t.SNR != nil && t.Noise == "":
		return fmt.Errorf("snr without noise: name its colour, one of %v", Colours())
	case t.SNR == nil && t.Noise != "":
		return errors.New("noise without snr: give the ratio in decibels")
	}
	o := newOptions(t.options())
	return o.check(t.Duration)
}

// law returns the systole law named, or the one for the person's age and sex.
func (p *Person) law() (SystoleLaw, error) {
	name := p.Systole
	switch {
	case name != "":
	case p.Age < adult:
		name = Exercise.Name
	case p.Sex == Female:
		name = RestingWomen.Name
	default:
		name = RestingMen.Name
	}
	var names []string
	for _, l := range SystoleLaws() {
		if l.Name == name {
			return l, nil
		}
		names = append(names, l.Name)
	}
	return SystoleLaw{}, fmt.Errorf("systole %q: want one of %v", name, names)
}

// adult is the age in years from which the regressions of adults hold.
const adult = 18

// heart returns what sounds at the site of a take.
func (p *Person) heart(t *Take, seed uint64) (Heart, error) {
	law, err := p.law()
	if err != nil {
		return Heart{}, err
	}
	if !(p.HeartRate >= MinRate && p.HeartRate <= MaxRate) {
		return Heart{}, fmt.Errorf("heart-rate %g bpm is not between %d and %d", p.HeartRate, MinRate, MaxRate)
	}
	h := NewHeart(p.HeartRate, law, seed)
	if p.CycleVariation != nil {
		h.CycleVariation = *p.CycleVariation
	}
	if p.Swing != nil {
		h.Breathing.Swing = *p.Swing
	}
	if p.Breaths != 0 {
		h.Breathing.Rate = p.Breaths
	}
	h.Premature, h.Missed = p.Premature, p.Missed
	h.S3.Gain = p.ThirdSound * h.M1.Gain
	for _, m := range p.Murmurs {
		h.Murmurs = append(h.Murmurs, m.at(t.Site, h.M1.Gain))
	}
	if p.Pitch != 0 {
		for _, c := range []*Component{&h.M1, &h.T1, &h.A2, &h.P2, &h.S3} {
			for i := range c.Partials {
				c.Partials[i].Frequency *= p.Pitch
			}
		}
	}
	t.Site.place(&h)
	return h, nil
}

// at returns the murmur as heard at a site.
func (m HeardMurmur) at(site Site, gain float64) Murmur {
	heard := Murmur{From: m.From, To: m.To, Shape: m.Shape, Low: m.Low, High: m.High, Level: m.Level * gain}
	if m.State == pcg.Systole.String() || m.State == pcg.Diastole.String() {
		heard.State, _ = pcg.ParseState(m.State)
	}
	if m.To == 0 {
		heard.To = 1
	}
	if site != m.Loudest {
		heard.Level *= elsewhere
	}
	return heard
}

// options returns how the take is recorded.
func (t *Take) options() []Option {
	var opts []Option
	if t.SNR != nil {
		opts = append(opts, WithNoise(t.Noise, *t.SNR))
	}
	if t.Clicks != 0 {
		opts = append(opts, WithClickRate(t.Clicks))
	}
	if t.Gain != 0 {
		opts = append(opts, WithGain(t.Gain))
	}
	if t.Clip != 0 {
		opts = append(opts, ClippedAt(t.Clip))
	}
	if t.Inverted {
		opts = append(opts, Inverted())
	}
	return opts
}

// recordingID returns the name of a take's files without their extension.
func (p *Person) recordingID(t *Take) string {
	id := p.ID
	if t.UnderID == UnderSecond && p.SecondID != "" {
		id = p.SecondID
	}
	name := id + "_" + string(t.Site)
	if t.Take > 0 {
		name += fmt.Sprintf("_%d", t.Take)
	}
	return name
}

// The labels that a recording carries in the data set, apart from those of the
// table itself.
const (
	CleanQuality    = "clean"
	NoisyQuality    = "noisy"
	UnusableQuality = "unusable"
)

// cleanSNR is the signal-to-noise ratio in decibels from which a recording can
// be called clean; usableLength is the shortest in which a rhythm can be found.
const (
	cleanSNR     = 20
	usableLength = 2 * time.Second
)

// quality returns the label of a take: unusable without audio or with less than
// two seconds of it; clean if nothing disturbs it, that is with a signal-to-noise
// ratio of 20 dB or more, without clicks or clipping, and of a heart without
// early or missed beats; noisy otherwise. A murmur disturbs nothing: it belongs
// to the heart.
func (p *Person) quality(t *Take) string {
	switch {
	case t.File != AudioFile || t.Duration < usableLength:
		return UnusableQuality
	case t.SNR != nil && *t.SNR < cleanSNR, t.Clicks > 0, t.Clip > 0, p.Premature > 0, p.Missed > 0:
		return NoisyQuality
	}
	return CleanQuality
}

// ageGroup returns the label for an age in years.
func ageGroup(age int) string {
	switch {
	case age < 13:
		return "child"
	case age < adult:
		return "adolescent"
	case age < 65:
		return "adult"
	}
	return "older adult"
}
