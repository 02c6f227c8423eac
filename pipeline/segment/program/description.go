package program

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"time"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/yamlcheck"
)

// description is the file of a method as it is written.
type description struct {
	Name       string      `yaml:"name"`
	Title      string      `yaml:"title"`
	Citation   string      `yaml:"citation"`
	Segment    []string    `yaml:"segment"`
	Fit        []string    `yaml:"fit"`
	Signal     *signalRule `yaml:"signal"`
	Audio      string      `yaml:"audio"`
	Labels     bool        `yaml:"labels"`
	Answers    string      `yaml:"answers"`
	Durations  *secondsOf  `yaml:"durations"`
	Files      []string    `yaml:"files"`
	Options    ast.Node    `yaml:"options"`
	FitOptions ast.Node    `yaml:"fit-options"`
}

// signalRule says which signal a program reads.
type signalRule struct {
	Rate sampleRate `yaml:"rate"`
	Band []float64  `yaml:"band"`
}

// sampleRate is a rate in hertz, or 0 for that of the recording.
type sampleRate int

// asRecorded is how the rate of the recording is written.
const asRecorded = "recorded"

// UnmarshalText implements [encoding.TextUnmarshaler].
func (r *sampleRate) UnmarshalText(text []byte) error {
	if string(text) == asRecorded {
		*r = 0
		return nil
	}
	n, err := strconv.Atoi(string(text))
	if err != nil || n < audio.MinRate || n > audio.MaxRate {
		return fmt.Errorf("%q: want a rate from %d to %d Hz, or %s", text, audio.MinRate, audio.MaxRate, asRecorded)
	}
	*r = sampleRate(n)
	return nil
}

// secondsOf are durations of the sounds in seconds.
type secondsOf struct {
	S1 float64 `yaml:"S1"`
	S2 float64 `yaml:"S2"`
}

// method is what the file of a method says, ready to be used.
type method struct {
	description
	inputRule
	answerRule
	options, fitOptions *optionSet
	dir                 string // of the file
	digest              string
}

// maxFileBytes bounds the file of a method.
const maxFileBytes = 64 << 10

// readMethod reads the file of a method. Errors name the file, lines and columns.
func readMethod(file string) (*method, error) {
	text, err := yamlcheck.ReadFile(file, maxFileBytes)
	if err != nil {
		return nil, fmt.Errorf("method %s: %w", file, err)
	}
	dir, err := filepath.Abs(filepath.Dir(file))
	if err != nil {
		return nil, fmt.Errorf("method %s: %w", file, err)
	}
	m, doc, err := parseMethod(file, text)
	if err != nil {
		return nil, fmt.Errorf("method %w", err)
	}
	m.dir = dir
	var problem *yamlcheck.KeyError
	if m.digest, problem = m.digestOf(text); problem != nil {
		return nil, fmt.Errorf("method %w", doc.Errors([]*yamlcheck.KeyError{problem}))
	}
	return m, nil
}

// parseMethod reads the text of a file.
func parseMethod(name string, text []byte) (*method, *yamlcheck.Document, error) {
	m := new(method)
	doc, err := yamlcheck.Decode(name, text, maxFileBytes, &m.description)
	if doc == nil {
		return nil, nil, err
	}
	var problems []*yamlcheck.KeyError
	fail := func(key, format string, args ...any) {
		problems = append(problems, &yamlcheck.KeyError{Key: key, Err: fmt.Errorf(format, args...)})
	}
	m.checkName(fail)
	m.readInput(fail)
	m.readAnswer(fail)
	problems = append(problems, m.readCommands()...)
	return m, doc, doc.Errors(problems)
}

// failFunc notes what is wrong with a key.
type failFunc func(key, format string, args ...any)

// methodName is what a method may be called.
var methodName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,63}$`)

func (m *method) checkName(fail failFunc) {
	if !methodName.MatchString(m.Name) {
		fail("$.name", "%q: want a name of small letters, digits and -", m.Name)
	}
	if _, err := segment.Lookup(m.Name); err == nil {
		fail("$.name", "%s is a method of this program: choose another name", m.Name)
	}
	if m.Title == "" {
		fail("$.title", "want a title: what the method is, in a line")
	}
}

// readInput reads what the program wants to know of a recording.
func (m *method) readInput(fail failFunc) {
	m.inputRule = inputRule{rate: signal.AnalysisRate, labels: m.Labels}
	switch m.Audio {
	case "":
	case "path":
		m.file = true
	default:
		fail("$.audio", "%q: want path", m.Audio)
	}
	if m.Signal == nil {
		return
	}
	if m.file {
		fail("$.audio", "a program reads either signal or audio: remove one")
	}
	m.rate = int(m.Signal.Rate)
	if band := m.Signal.Band; band != nil {
		if len(band) != 2 || !(band[0] > 0 && band[1] > band[0]) || m.rate > 0 && !(band[1] < float64(m.rate)/2) {
			fail("$.signal.band", "want two rising edges between 0 and half the rate, in hertz, such as [25, 400]")
			return
		}
		m.band = &[2]float64{band[0], band[1]}
	}
}

// maxSound bounds the duration of a sound, in seconds.
const maxSound = 1

// readAnswer reads how the program answers.
func (m *method) readAnswer(fail failFunc) {
	switch m.Answers {
	case "intervals":
	case "points":
		m.points = true
	default:
		fail("$.answers", "%q: want intervals or points", m.Answers)
	}
	if m.Durations == nil {
		return
	}
	if !m.points {
		fail("$.durations", "only points get durations")
	}
	for _, d := range []struct {
		key     string
		seconds float64
	}{{"$.durations.S1", m.Durations.S1}, {"$.durations.S2", m.Durations.S2}} {
		if !(d.seconds > 0 && d.seconds <= maxSound) {
			fail(d.key, "%g: want the duration of the sound in seconds, up to %d", d.seconds, maxSound)
		}
	}
	m.durations = &soundDurations{seconds(m.Durations.S1), seconds(m.Durations.S2)}
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// readCommands reads the commands and their options.
func (m *method) readCommands() (problems []*yamlcheck.KeyError) {
	var more []*yamlcheck.KeyError
	m.options, problems = readOptions("$.options", m.Options)
	m.fitOptions, more = readOptions("$.fit-options", m.FitOptions)
	problems = append(problems, more...)
	var needs []string
	if m.Fit != nil {
		needs = []string{modelPlace}
	}
	if m.options.any() {
		needs = append(needs, optionsPlace)
	}
	problems = append(problems, checkCommand("$.segment", m.Segment, needs...)...)
	switch {
	case m.Fit != nil:
		needs = []string{modelPlace, examplesPlace}
		if m.fitOptions.any() {
			needs = append(needs, fitOptionsPlace)
		}
		problems = append(problems, checkCommand("$.fit", m.Fit, needs...)...)
	case m.fitOptions.any():
		problems = append(problems, &yamlcheck.KeyError{Key: "$.fit-options", Err: errors.New("there is no command for fit")})
	}
	return problems
}

// digestOf returns the digest of what the method is made from: the text of its file,
// the files that it lists, and the files beside it that its commands name.
func (m *method) digestOf(text []byte) (string, *yamlcheck.KeyError) {
	all := sha256.New()
	fmt.Fprintf(all, "%d\n%s", len(text), text)
	for i, name := range m.Files {
		if err := addFile(all, m.dir, name); err != nil {
			return "", &yamlcheck.KeyError{Key: fmt.Sprintf("$.files[%d]", i), Err: fmt.Errorf("%s: %w", name, err)}
		}
	}
	for _, name := range slices.Concat(m.Segment, m.Fit) {
		if !slices.Contains(m.Files, name) {
			addFile(all, m.dir, name) // most words name no file
		}
	}
	return hex.EncodeToString(all.Sum(nil)), nil
}

// addFile adds name and content of a file of the folder dir.
func addFile(to io.Writer, dir, name string) error {
	if filepath.IsAbs(name) {
		return errors.New("want a path that begins at the folder of the method's file")
	}
	path := filepath.Join(dir, name)
	info, err := os.Stat(path)
	if err != nil {
		return errors.Unwrap(err)
	}
	if !info.Mode().IsRegular() {
		return errors.New("not a file")
	}
	f, err := os.Open(path)
	if err != nil {
		return errors.Unwrap(err)
	}
	defer f.Close()
	fmt.Fprintf(to, "%q %d\n", name, info.Size())
	_, err = io.Copy(to, f)
	return err
}
