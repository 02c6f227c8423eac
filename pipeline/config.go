package pipeline

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"runtime"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"phonocycle/configs"
	"phonocycle/pipeline/yamlcheck"
)

// Config says what a run does. Its YAML form has the words of the command
// line; see configs/runs for one file a published baseline.
type Config struct {
	// About the configuration itself.
	Title    string   `yaml:"title" json:"title,omitempty"`
	Citation string   `yaml:"citation" json:"citation,omitempty"`
	Paper    string   `yaml:"paper" json:"paper,omitempty"`
	Differs  []string `yaml:"differs" json:"differs,omitempty"`

	// What to read.
	Sources []Source `yaml:"sources" json:"sources"`
	Channel int      `yaml:"channel" json:"channel"` // 0 is the mean of all channels

	// How to segment.
	Method  string   `yaml:"method" json:"method"`
	Model   string   `yaml:"model" json:"model,omitempty"`
	Options ast.Node `yaml:"options" json:"-"` // the method's own; see segment.Methods

	// How to fit and to cross-validate.
	Fit        ast.Node    `yaml:"fit" json:"-"`                             // options of the method's fit; see segment.Methods
	Folds      int         `yaml:"folds" json:"folds"`                       // people are split into; 0 is no split
	FoldSeed   uint64      `yaml:"fold-seed" json:"fold_seed"`               // of the split
	MostPeople int         `yaml:"most-people" json:"most_people,omitempty"` // to fit to; 0 is all
	Known      KnownPeople `yaml:"known-people" json:"known_people"`

	// What to leave out and when to give up.
	MinDuration Duration `yaml:"min-duration" json:"min_duration"`
	TimeLimit   Duration `yaml:"time-limit" json:"time_limit"`

	// How to cut windows, where windows are cut.
	Windows *WindowRules `yaml:"windows" json:"windows,omitempty"`

	// How to score.
	Scoring Scoring `yaml:"scoring" json:"scoring"`

	// How to run. None of these changes a byte of a table, but for PartSize,
	// which decides where one file ends and the next begins.
	Out      string `yaml:"out" json:"-"`
	Workers  int    `yaml:"workers" json:"-"`
	PartSize int    `yaml:"part-size" json:"part_size"`
	Resume   bool   `yaml:"resume" json:"-"`
	Shard    Shard  `yaml:"shard" json:"-"`
}

// Source is one data set of a run: a folder and the layout that describes it.
type Source struct {
	Data   string `yaml:"data" json:"-"` // the same data may lie elsewhere on another machine
	Layout string `yaml:"layout" json:"layout"`
}

// Scoring holds the rules that a user may set; see package eval for all.
type Scoring struct {
	Anchor    string   `yaml:"anchor" json:"anchor"`       // centre, onset or offset
	Tolerance Duration `yaml:"tolerance" json:"tolerance"` // half-width of the headline
	Resamples int      `yaml:"resamples" json:"resamples"`
	Seed      uint64   `yaml:"seed" json:"seed"`
	Strata    []string `yaml:"strata" json:"strata,omitempty"` // labels by which scores are split
}

// KnownPeople says what becomes of the scores of people on whom the method's
// parameters were fitted: such scores say nothing about others.
type KnownPeople string

// What can become of the scores of people whom a model knows.
const (
	RefuseKnown   KnownPeople = "refuse"    // an error that names the first of them
	LeaveOutKnown KnownPeople = "leave-out" // their recordings are not scored, and counted with that reason

	keepKnown KnownPeople = "keep" // for those who read and do not score
)

func (k *KnownPeople) String() string { return string(*k) }

// UnmarshalText takes any text; Config.Check refuses what is none of the above.
func (k *KnownPeople) UnmarshalText(text []byte) error {
	*k = KnownPeople(text)
	return nil
}

// Shard is one of Of machines that share a run; the zero value is the only one.
type Shard struct{ Index, Of int }

// DefaultConfig returns the configuration that a run starts from.
func DefaultConfig() Config {
	return Config{
		Method:      "duration-hmm",
		Model:       "builtin",
		Folds:       10,
		FoldSeed:    1,
		Known:       RefuseKnown,
		MinDuration: Duration(time.Second),
		TimeLimit:   Duration(2 * time.Minute),
		Scoring:     Scoring{Anchor: "centre", Tolerance: Duration(60 * time.Millisecond), Resamples: 2000, Seed: 1},
		Workers:     runtime.GOMAXPROCS(0),
		PartSize:    64,
	}
}

// maxConfigBytes bounds a run configuration; the largest of ours has 2 KB.
const maxConfigBytes = 64 << 10

// LoadConfig reads a run configuration over the defaults: a file, or one of
// those embedded under configs/runs by its bare name. A key that does not
// exist is an error with its line and column.
func LoadConfig(nameOrFile string) (Config, error) {
	content, err := readConfig(nameOrFile)
	if err != nil {
		return Config{}, err
	}
	return parseConfig(nameOrFile, content)
}

func parseConfig(name string, content []byte) (Config, error) {
	if _, err := yamlcheck.Parse(name, content, maxConfigBytes); err != nil {
		return Config{}, fmt.Errorf("run configuration %w", err)
	}
	c := DefaultConfig()
	if err := yaml.NewDecoder(bytes.NewReader(content), yaml.Strict()).Decode(&c); err != nil {
		return Config{}, fmt.Errorf("run configuration %s: %s", name, yaml.FormatError(err, false, true))
	}
	return c, nil
}

func readConfig(nameOrFile string) ([]byte, error) {
	if !strings.ContainsAny(nameOrFile, `./\`) {
		content, err := configs.FS.ReadFile(path.Join("runs", nameOrFile+".yaml"))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("no embedded run configuration %q: have %s; a file needs its extension, as in %s.yaml",
				nameOrFile, strings.Join(ConfigNames(), ", "), nameOrFile)
		}
		return content, err
	}
	f, err := os.Open(nameOrFile)
	if err != nil {
		return nil, fmt.Errorf("run configuration: %w; give --config a file, or one of %s", err, strings.Join(ConfigNames(), ", "))
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxConfigBytes+1))
}

// ConfigNames returns the names of the embedded run configurations, sorted.
func ConfigNames() []string { return embeddedNames("runs", ".yaml") }

// SetOptions sets options of the method, each written as key=value, over those
// that the configuration has. A key of a nested option is a path with dots, as
// in timing.s1-sd=0.02.
func (c *Config) SetOptions(pairs []string) (err error) {
	c.Options, err = withOptions(c.Options, pairs)
	return err
}

// SetFitOptions is SetOptions for the options of the method's fit.
func (c *Config) SetFitOptions(pairs []string) (err error) {
	c.Fit, err = withOptions(c.Fit, pairs)
	return err
}

// withOptions returns the options of node with those of pairs over them.
func withOptions(node ast.Node, pairs []string) (ast.Node, error) {
	if len(pairs) == 0 {
		return node, nil
	}
	options := yaml.MapSlice{}
	if node != nil {
		if err := yaml.NodeToValue(node, &options, yaml.UseOrderedMap()); err != nil {
			return nil, fmt.Errorf("options: %w", err)
		}
	}
	for _, pair := range pairs {
		path, text, ok := strings.Cut(pair, "=")
		if !ok || path == "" {
			return nil, fmt.Errorf("option %q: write key=value", pair)
		}
		var value any
		if err := yaml.Unmarshal([]byte(text), &value); err != nil {
			return nil, fmt.Errorf("option %s: %q is no value", path, text)
		}
		options = setPath(options, strings.Split(path, "."), value)
	}
	changed, err := yaml.ValueToNode(options)
	if err != nil {
		return nil, fmt.Errorf("options: %w", err)
	}
	return changed, nil
}

// setPath sets the value at a path of keys.
func setPath(m yaml.MapSlice, path []string, value any) yaml.MapSlice {
	if len(path) == 1 {
		return setItem(m, path[0], value)
	}
	var inner yaml.MapSlice
	for _, item := range m {
		if item.Key == path[0] {
			inner, _ = item.Value.(yaml.MapSlice)
		}
	}
	return setItem(m, path[0], setPath(inner, path[1:], value))
}

func setItem(m yaml.MapSlice, key string, value any) yaml.MapSlice {
	for i := range m {
		if m[i].Key == key {
			m[i].Value = value
			return m
		}
	}
	return append(m, yaml.MapItem{Key: key, Value: value})
}

// Check reports the first thing in c that no run could be made with.
func (c *Config) Check() error {
	switch {
	case c.Workers < 1:
		return fmt.Errorf("workers is %d: at least 1 is needed", c.Workers)
	case c.PartSize < 1:
		return fmt.Errorf("part-size is %d: a part holds at least 1 recording", c.PartSize)
	case c.Channel < 0:
		return fmt.Errorf("channel is %d: channels are counted from 1, and 0 is the mean of all", c.Channel)
	case c.MinDuration < 0 || c.TimeLimit < 0:
		return fmt.Errorf("min-duration %v and time-limit %v must not be negative", c.MinDuration, c.TimeLimit)
	case c.Scoring.Tolerance <= 0:
		return fmt.Errorf("tolerance is %v: it is a half-width above zero, such as 60ms", c.Scoring.Tolerance)
	case c.Folds < 0 || c.Folds == 1:
		return fmt.Errorf("folds is %d: at least 2 are needed, or 0 for no split", c.Folds)
	case c.MostPeople < 0:
		return fmt.Errorf("most-people is %d: at least 1 is needed, or 0 for all", c.MostPeople)
	case c.Known != RefuseKnown && c.Known != LeaveOutKnown:
		return fmt.Errorf("known-people is %q: want %s or %s", c.Known, RefuseKnown, LeaveOutKnown)
	case c.Shard.Of < 0 || c.Shard.Index < 0 || c.Shard.Index > c.Shard.Of || (c.Shard.Of > 0 && c.Shard.Index < 1):
		return fmt.Errorf("shard is %v: write i/n with i from 1 to n", c.Shard)
	}
	return nil
}

// Duration is a time.Duration that YAML, JSON and flags write as "60ms".
type Duration time.Duration

func (d Duration) String() string               { return time.Duration(d).String() }
func (d Duration) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a number with its unit.
func (d *Duration) UnmarshalText(text []byte) error {
	v, err := time.ParseDuration(string(text))
	if err != nil {
		return fmt.Errorf("%q is not a time with its unit, such as 60ms or 2m", text)
	}
	*d = Duration(v)
	return nil
}

// String returns i/n, or the empty string for the only shard.
func (s Shard) String() string {
	if s.Of == 0 {
		return ""
	}
	return fmt.Sprintf("%d/%d", s.Index, s.Of)
}

// UnmarshalText reads i/n.
func (s *Shard) UnmarshalText(text []byte) error {
	var v Shard
	var rest string
	if n, _ := fmt.Sscanf(string(text)+"\n", "%d/%d%s\n", &v.Index, &v.Of, &rest); n != 2 || v.Index < 1 || v.Of < v.Index {
		return fmt.Errorf("shard %q: write i/n with i from 1 to n, such as 3/8", text)
	}
	*s = v
	return nil
}

// MarshalText is the inverse of UnmarshalText.
func (s Shard) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// has reports whether part p of the plan falls to this shard.
func (s Shard) has(p int) bool { return s.Of == 0 || p%s.Of == s.Index-1 }
