// Package config holds what a user says about a run: the run configuration, as
// written in YAML or given by flags, and the method with its options and model.
//
// A key or value that does not exist is an error that names file, line and
// column. Nothing here reads recordings.
package config

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"runtime"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"

	"phonocycle/configs"
	"phonocycle/pipeline/synth/degrade"
	"phonocycle/pipeline/yamlcheck"
)

// Config says what a run does. Its YAML form has the words of the command
// line; configs/runs has one file per published baseline.
type Config struct {
	// About the configuration itself.
	Title    string   `yaml:"title" json:"title,omitempty"`
	Citation string   `yaml:"citation" json:"citation,omitempty"`
	Paper    string   `yaml:"paper" json:"paper,omitempty"`
	Differs  []string `yaml:"differs" json:"differs,omitempty"`

	// What to read.
	Inputs     []Input `yaml:"inputs" json:"inputs"`
	People     string  `yaml:"people" json:"-"`        // list that selects people: a file or an embedded one; empty for all, see the plan
	Recordings string  `yaml:"recordings" json:"-"`    // file with a list that selects recordings; empty for all, see the plan
	Reference  string  `yaml:"reference" json:"-"`     // name of the reference of the data sets; empty for the first, see the plan
	Channel    int     `yaml:"channel" json:"channel"` // 0 is the mean of all channels

	// Labels that are made of those of the data sets.
	Labels []CommonLabel `yaml:"labels" json:"labels,omitempty"`

	// How to change the audio as it is read, but not that of a fit; see the plan.
	Condition     string `yaml:"condition" json:"-"` // as package degrade reads it; empty for no change
	ConditionSeed uint64 `yaml:"condition-seed" json:"-"`

	// How to segment.
	Method  string   `yaml:"method" json:"method"`
	Model   string   `yaml:"model" json:"model,omitempty"`
	Options ast.Node `yaml:"options" json:"-"` // the method's own; see segment.Methods

	// How to fit and to cross-validate.
	Fit        ast.Node `yaml:"fit" json:"-"`                             // options of the method's fit; see segment.Methods
	Folds      int      `yaml:"folds" json:"folds"`                       // people are split into; 0 is no split
	FoldSeed   uint64   `yaml:"fold-seed" json:"fold_seed"`               // of the split
	MostPeople int      `yaml:"most-people" json:"most_people,omitempty"` // to fit to; 0 is all
	ModelsFrom string   `yaml:"models-from" json:"-"`                     // folder of a cross-validation that has fitted the same models; empty to fit them
	Overlap    Overlap  `yaml:"training-overlap" json:"training_overlap"`

	// Whether people may be told apart less well than the layout says.
	UnreadTables UnreadTables `yaml:"unread-tables" json:"unread_tables"`

	// What to leave out and when to give up.
	MinDuration Duration `yaml:"min-duration" json:"min_duration"`
	MaxDuration Duration `yaml:"max-duration" json:"max_duration"`
	TimeLimit   Duration `yaml:"time-limit" json:"time_limit"`

	// NoFeatures leaves out the features and the tables that hold nothing else: a run
	// whose segmentation is only scored takes a third of the time.
	NoFeatures bool `yaml:"no-features" json:"no_features,omitempty"`

	// How to cut windows, where windows are cut.
	Windows *WindowRules `yaml:"windows" json:"windows,omitempty"`

	// How to score.
	Scoring Scoring `yaml:"scoring" json:"scoring"`

	// How to run. None of these changes a byte of a table, but for PartSize,
	// which decides where one file ends and the next begins.
	Out       string `yaml:"out" json:"-"`
	Workers   int    `yaml:"workers" json:"-"`
	PartSize  int    `yaml:"part-size" json:"part_size"`
	Resume    bool   `yaml:"resume" json:"-"`
	Overwrite bool   `yaml:"-" json:"-"` // replace what an earlier run left in Out; never by a file, only by who starts the run
	Shard     Shard  `yaml:"shard" json:"-"`
}

// Input is one data set of a run: a folder and the layout that describes it.
type Input struct {
	Data   string `yaml:"data" json:"-"` // the same data may lie elsewhere on another machine
	Layout string `yaml:"layout" json:"layout"`

	// FollowLinks reads files and folders behind symbolic links, also out of the
	// data root.
	FollowLinks bool `yaml:"follow-links" json:"follow_links,omitempty"`
}

// Scoring holds the rules that a user may set; see package eval for all.
type Scoring struct {
	Anchor    string   `yaml:"anchor" json:"anchor"`       // centre, onset or offset
	Tolerance Duration `yaml:"tolerance" json:"tolerance"` // half-width of the headline; 0 is that of the reference, see the plan
	Resamples int      `yaml:"resamples" json:"resamples"`
	Seed      uint64   `yaml:"seed" json:"seed"`
	Strata    []string `yaml:"strata" json:"strata,omitempty"` // labels by which scores are split
}

// Default returns the configuration that a run starts from.
func Default() Config {
	return Config{
		Method:        "duration-hmm",
		Model:         "builtin",
		Folds:         10,
		FoldSeed:      1,
		Overlap:       RefuseOverlap,
		UnreadTables:  RefuseUnreadTables,
		MinDuration:   Duration(time.Second),
		MaxDuration:   Duration(2 * time.Hour),
		TimeLimit:     Duration(2 * time.Minute),
		ConditionSeed: 1,
		Scoring:       Scoring{Anchor: "centre", Resamples: 2000, Seed: 1},
		Workers:       min(runtime.GOMAXPROCS(0), maxWorkers),
		PartSize:      64,
	}
}

// maxConfigBytes bounds a run configuration; the largest of ours has 2 KB.
const maxConfigBytes = 64 << 10

// Load reads a run configuration over the defaults: a file, or one of
// those embedded under configs/runs by its bare name. A key that does not
// exist is an error with its line and column.
func Load(nameOrFile string) (Config, error) {
	content, err := read(nameOrFile)
	if err != nil {
		return Config{}, err
	}
	return parse(nameOrFile, content)
}

func parse(name string, content []byte) (Config, error) {
	c := Default()
	if _, err := yamlcheck.Decode(name, content, maxConfigBytes, &c); err != nil {
		return Config{}, fmt.Errorf("run configuration %w", err)
	}
	return c, nil
}

func read(nameOrFile string) ([]byte, error) {
	if !IsFile(nameOrFile) {
		content, err := configs.FS.ReadFile(path.Join("runs", nameOrFile+".yaml"))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("no embedded run configuration %q: have %s; a file needs its extension, as in %s.yaml",
				nameOrFile, strings.Join(Names(), ", "), nameOrFile)
		}
		return content, err
	}
	f, err := os.Open(nameOrFile)
	if err != nil {
		return nil, fmt.Errorf("run configuration: %w; give --config a file, or one of %s", err, strings.Join(Names(), ", "))
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxConfigBytes+1))
}

// Names returns the names of the embedded run configurations, sorted.
func Names() []string { return embeddedNames("runs", ".yaml") }

// Check returns an error for the first value with which no run is possible.
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
	case c.Scoring.Tolerance < 0:
		return fmt.Errorf("tolerance is %v: it is a half-width such as 60ms, or 0s for that of the reference", c.Scoring.Tolerance)
	case c.Folds < 0 || c.Folds == 1:
		return fmt.Errorf("folds is %d: at least 2 are needed, or 0 for no split", c.Folds)
	case c.MostPeople < 0:
		return fmt.Errorf("most-people is %d: at least 1 is needed, or 0 for all", c.MostPeople)
	case c.Overlap != RefuseOverlap && c.Overlap != LeaveOutOverlap && c.Overlap != ScoreOverlap:
		return fmt.Errorf("training-overlap is %q: want %s, %s or %s", c.Overlap, RefuseOverlap, LeaveOutOverlap, ScoreOverlap)
	case c.UnreadTables != RefuseUnreadTables && c.UnreadTables != AcceptUnreadTables:
		return fmt.Errorf("unread-tables is %q: want %s or %s", c.UnreadTables, RefuseUnreadTables, AcceptUnreadTables)
	case c.Shard.Of < 0 || c.Shard.Index < 0 || c.Shard.Index > c.Shard.Of || (c.Shard.Of > 0 && c.Shard.Index < 1):
		return fmt.Errorf("shard is %v: write i/n with i from 1 to n", c.Shard)
	}
	if _, err := degrade.Parse(c.Condition); err != nil {
		return err
	}
	if err := c.checkLabels(); err != nil {
		return err
	}
	return c.checkBounds()
}
