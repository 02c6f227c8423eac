package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline"
	"phonocycle/pipeline/segment"
)

// configFlags are the flags of commands that run over data sets. A flag that is
// given overrides the configuration file.
type configFlags struct {
	set     *pflag.FlagSet
	file    string
	data    []string
	layouts []string
	options []string
	fit     []string
	given   pipeline.Config
}

// textFlag is a value that is written as text, such as 60ms or 3/8.
type textFlag struct {
	value interface {
		fmt.Stringer
		UnmarshalText([]byte) error
	}
	kind string
}

func (f textFlag) String() string     { return f.value.String() }
func (f textFlag) Set(s string) error { return f.value.UnmarshalText([]byte(s)) }
func (f textFlag) Type() string       { return f.kind }

// addSourceFlags adds the flags that say what to read.
func addSourceFlags(cmd *cobra.Command) *configFlags {
	f := &configFlags{set: cmd.Flags(), given: pipeline.DefaultConfig()}
	f.set.StringVar(&f.file, "config", "", "run configuration: a YAML `file`, or the name of an embedded one: "+strings.Join(pipeline.ConfigNames(), ", "))
	f.set.StringArrayVar(&f.data, "data", nil, "`folder` of the data set; repeat with --layout for several")
	f.set.StringArrayVar(&f.layouts, "layout", nil, "layout of the data set: a `name` (circor, pascal, cinc2016, plain) or a YAML file")
	f.set.IntVar(&f.given.Channel, "channel", f.given.Channel, "channel to read, from 1; 0 is the mean of all")
	return f
}

// addRunFlags adds the flags of stages that write tables.
func addRunFlags(cmd *cobra.Command) *configFlags {
	f := addSourceFlags(cmd)
	f.set.StringVar(&f.given.Out, "out", "", "output `folder`")
	f.addWorkersFlag()
	f.set.IntVar(&f.given.Folds, "folds", f.given.Folds, "folds that people are split into; 0 for none")
	f.set.Uint64Var(&f.given.FoldSeed, "fold-seed", f.given.FoldSeed, "seed of the split into folds")
	f.set.IntVar(&f.given.PartSize, "part-size", f.given.PartSize, "recordings in one part of each table")
	f.set.BoolVar(&f.given.Resume, "resume", false, "continue an interrupted run at its first missing part")
	f.set.Var(textFlag{&f.given.MinDuration, "time"}, "min-duration", "recordings shorter than this are excluded")
	f.set.Var(textFlag{&f.given.TimeLimit, "time"}, "time-limit", "a recording that takes longer fails; 0s is no limit")
	f.set.Var(textFlag{&f.given.Shard, "i/n"}, "shard", "make only every n-th part, from the i-th on; join them with merge")
	return f
}

func (f *configFlags) addWorkersFlag() {
	f.set.IntVar(&f.given.Workers, "workers", f.given.Workers, "recordings processed at a time")
}

// addFitFlags adds the flags that set how a method is fitted.
func (f *configFlags) addFitFlags() *configFlags {
	f.set.StringArrayVar(&f.fit, "fit-option", nil, "`key=value` of the method's fit; repeat for several")
	f.set.IntVar(&f.given.MostPeople, "most-people", f.given.MostPeople, "fit to so many people at most, drawn by --fold-seed; 0 for all")
	return f
}

// addMethodFlags adds the flags that choose the method.
func (f *configFlags) addMethodFlags() *configFlags {
	var names []string
	for _, m := range segment.Methods() {
		names = append(names, m.Name)
	}
	f.set.StringVar(&f.given.Method, "method", f.given.Method, "segmentation `method`: "+strings.Join(names, ", "))
	f.set.StringVar(&f.given.Model, "model", f.given.Model, "fitted parameters of the method: builtin, a `file` that fit wrote, or the name of an embedded model: "+strings.Join(pipeline.ModelNames(), ", "))
	f.set.StringArrayVar(&f.options, "option", nil, "`key=value` of the method; repeat for several")
	return f
}

// addScoringFlags adds the flags that set the scoring rules and the strata.
func (f *configFlags) addScoringFlags() *configFlags {
	f.addRuleFlags()
	f.set.Var(textFlag{&f.given.Known, "what"}, "known-people", "scores of people on whom the method was fitted: refuse, or leave-out")
	f.set.StringSliceVar(&f.given.Scoring.Strata, "strata", nil, "`labels` by which scores are split, separated by commas; by default all with few values")
	return f
}

// addRuleFlags adds the flags that set the scoring rules and the bootstrap.
func (f *configFlags) addRuleFlags() {
	s := &f.given.Scoring
	f.set.StringVar(&s.Anchor, "anchor", s.Anchor, "`point` of a sound that is compared: centre, onset or offset")
	f.set.Var(textFlag{&s.Tolerance, "time"}, "tolerance", "half-width of the headline tolerance, inclusive")
	f.set.IntVar(&s.Resamples, "resamples", s.Resamples, "bootstrap resamples over people")
	f.set.Uint64Var(&s.Seed, "seed", s.Seed, "seed of the bootstrap")
}

// config returns the configuration: the file's, overridden by the flags that
// were given.
func (f *configFlags) config() (pipeline.Config, error) {
	c := pipeline.DefaultConfig()
	if f.file != "" {
		var err error
		if c, err = pipeline.LoadConfig(f.file); err != nil {
			return c, err
		}
	}
	g := &f.given
	for name, take := range map[string]func(){
		"channel":      func() { c.Channel = g.Channel },
		"out":          func() { c.Out = g.Out },
		"workers":      func() { c.Workers = g.Workers },
		"part-size":    func() { c.PartSize = g.PartSize },
		"resume":       func() { c.Resume = g.Resume },
		"min-duration": func() { c.MinDuration = g.MinDuration },
		"time-limit":   func() { c.TimeLimit = g.TimeLimit },
		"shard":        func() { c.Shard = g.Shard },
		"method":       func() { c.Method = g.Method },
		"model":        func() { c.Model = g.Model },
		"anchor":       func() { c.Scoring.Anchor = g.Scoring.Anchor },
		"folds":        func() { c.Folds = g.Folds },
		"fold-seed":    func() { c.FoldSeed = g.FoldSeed },
		"most-people":  func() { c.MostPeople = g.MostPeople },
		"known-people": func() { c.Known = g.Known },
		"tolerance":    func() { c.Scoring.Tolerance = g.Scoring.Tolerance },
		"resamples":    func() { c.Scoring.Resamples = g.Scoring.Resamples },
		"seed":         func() { c.Scoring.Seed = g.Scoring.Seed },
		"strata":       func() { c.Scoring.Strata = g.Scoring.Strata },
	} {
		if f.set.Changed(name) {
			take()
		}
	}
	if err := f.sources(&c); err != nil {
		return c, err
	}
	if err := c.SetOptions(f.options); err != nil {
		return c, usageError{err}
	}
	if err := c.SetFitOptions(f.fit); err != nil {
		return c, usageError{err}
	}
	return c, nil
}

// sources pairs each --data with its --layout.
func (f *configFlags) sources(c *pipeline.Config) error {
	if len(f.data) == 0 && len(f.layouts) == 0 {
		if len(c.Sources) == 0 {
			return usageError{fmt.Errorf("no data: name a folder with --data and its layout with --layout")}
		}
		return nil
	}
	if len(f.data) != len(f.layouts) {
		return usageError{fmt.Errorf("%d --data and %d --layout: each folder needs its layout", len(f.data), len(f.layouts))}
	}
	c.Sources = nil
	for i := range f.data {
		c.Sources = append(c.Sources, pipeline.Source{Data: f.data[i], Layout: f.layouts[i]})
	}
	return nil
}

// needOut refuses a configuration without an output folder.
func needOut(c *pipeline.Config) error {
	if c.Out == "" {
		return usageError{fmt.Errorf("no output folder: name one with --out")}
	}
	return nil
}
