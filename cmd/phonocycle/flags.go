package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/segment"
)

// configFlags are the flags that make up a run configuration. A flag on the
// command line overrides the configuration file.
type configFlags struct {
	set     *pflag.FlagSet
	file    string
	data    []string
	layouts []string
	follow  bool
	options []string
	fit     []string
	given   config.Config
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
	f := &configFlags{set: cmd.Flags(), given: config.Default()}
	f.set.StringVar(&f.file, "config", "", "run configuration: a YAML `file`, or the name of a built-in one: "+strings.Join(config.Names(), ", "))
	f.addDataFlags()
	return f
}

// addHeldReferenceFlag adds the flag of commands that read runs.
func (f *configFlags) addHeldReferenceFlag() {
	f.set.StringVar(&f.given.Reference, "reference", "", "`name` of the reference that the runs must have been scored against; any by default. score can score a run against another one")
}

// addReferenceFlag adds the flag of commands that read references.
func (f *configFlags) addReferenceFlag() *configFlags {
	f.set.StringVar(&f.given.Reference, "reference", "", "`name` of the reference among those of the layout; the first by default")
	return f
}

// addChannelFlag adds the flag of commands that read audio.
func (f *configFlags) addChannelFlag() *configFlags {
	f.set.IntVar(&f.given.Channel, "channel", f.given.Channel, "audio channel to read, counted from 1; 0 is the mean of all channels, or the signal of a WFDB record that the layout names")
	return f
}

// addLinksFlag adds the flag that follows links in data sets.
func (f *configFlags) addLinksFlag() {
	f.set.BoolVar(&f.follow, "follow-links", false, "read files and folders behind symbolic links, also out of the folder of the data set")
}

// addRunFlags adds the flags of stages that write tables.
func addRunFlags(cmd *cobra.Command) *configFlags {
	f := addSourceFlags(cmd).addSelectionFlags().addReferenceFlag().addChannelFlag()
	f.set.StringVar(&f.given.Out, "out", "", "output `folder`")
	f.set.StringVar(&f.given.Condition, "condition", "", "`list` of changes of the audio as it is read, such as noise=pink,snr=5; see degrade. A fit sees the data as they are")
	f.set.Uint64Var(&f.given.ConditionSeed, "condition-seed", f.given.ConditionSeed, "random seed of the condition")
	f.addWorkersFlag()
	f.set.IntVar(&f.given.Folds, "folds", f.given.Folds, "number of folds; each person is in one fold; 0 makes no folds")
	f.addFoldSeedFlag()
	f.set.IntVar(&f.given.PartSize, "part-size", f.given.PartSize, "number of recordings in each file of a table")
	f.set.BoolVar(&f.given.Resume, "resume", false, "continue an interrupted run at its first missing part")
	addOverwriteFolderFlag(f.set, &f.given.Overwrite)
	f.set.Var(textFlag{&f.given.MinDuration, "time"}, "min-duration", "exclude recordings that are shorter than this")
	f.set.Var(textFlag{&f.given.MaxDuration, "time"}, "max-duration", "exclude recordings that are longer than this; memory grows by about 1 GB per hour")
	f.set.Var(textFlag{&f.given.TimeLimit, "time"}, "time-limit", "a recording that takes longer than this fails; 0s is no limit")
	f.set.Var(textFlag{&f.given.Shard, "i/n"}, "shard", "process only every n-th part, from part i on; merge then completes the run")
	return f
}

// addDataFlags adds the flags that name the data sets.
func (f *configFlags) addDataFlags() {
	f.set.StringArrayVar(&f.data, "data", nil, "`folder` of the data set; for several data sets, repeat --data and --layout")
	f.set.StringArrayVar(&f.layouts, "layout", nil, "layout of the data set: a `name` (circor, pascal, cinc2016, plain) or a YAML file")
	f.addLinksFlag()
}

// addSelectionFlags adds the flags of commands that walk the recordings of data sets.
func (f *configFlags) addSelectionFlags() *configFlags {
	f.set.StringVar(&f.given.People, "people", "", "list of the people whose recordings are read: a text `file` with one id per line (! before an id excludes it), or a built-in list: "+strings.Join(config.PeopleNames(), ", "))
	f.set.StringVar(&f.given.Recordings, "recordings", "", "list of the recordings that are read: a text `file` with one id per line (! before an id excludes it)")
	return f
}

func (f *configFlags) addWorkersFlag() {
	f.set.IntVar(&f.given.Workers, "workers", f.given.Workers, "number of recordings to process at the same time")
}

// addScoringWorkersFlag adds the flag of commands that only score.
func (f *configFlags) addScoringWorkersFlag() {
	f.set.IntVar(&f.given.Workers, "workers", f.given.Workers, "number of parts to score at the same time")
}

func (f *configFlags) addFoldSeedFlag() {
	f.set.Uint64Var(&f.given.FoldSeed, "fold-seed", f.given.FoldSeed, "random seed for the folds")
}

// addFeaturesFlag adds the flag of stages that measure features beside the scores.
func (f *configFlags) addFeaturesFlag() *configFlags {
	f.set.BoolVar(&f.given.NoFeatures, "no-features", false, "measure no features: write the tables recordings, states, matches and scores only")
	return f
}

// addFitFlags adds the flags that set how a method is fitted.
func (f *configFlags) addFitFlags() *configFlags {
	f.set.StringArrayVar(&f.fit, "fit-option", nil, "option of the method's fit as `key=value`; repeat for several")
	f.set.IntVar(&f.given.MostPeople, "most-people", f.given.MostPeople, "largest number of people to fit to, drawn with --fold-seed; 0 takes all")
	return f
}

// addModelsFromFlag adds the flag of commands that fit a model for each fold.
func (f *configFlags) addModelsFromFlag() *configFlags {
	f.set.StringVar(&f.given.ModelsFrom, "models-from", "", "`folder` of another cross-validation whose models are used in place of new fits")
	return f
}

// addMethodFlag adds the flag that chooses the method.
func (f *configFlags) addMethodFlag() *configFlags {
	var names []string
	for _, m := range segment.Methods() {
		names = append(names, m.Name)
	}
	f.set.StringVar(&f.given.Method, "method", f.given.Method, "segmentation `method`: "+strings.Join(names, ", "))
	return f
}

// addMethodFlags adds the flags of commands that segment with a method.
func (f *configFlags) addMethodFlags() *configFlags {
	f.addMethodFlag()
	f.set.StringArrayVar(&f.options, "option", nil, "option of the method as `key=value`; repeat for several")
	return f
}

// addModelFlag adds the flag of commands that segment with a fitted model.
func (f *configFlags) addModelFlag() *configFlags {
	f.set.StringVar(&f.given.Model, "model", f.given.Model, "fitted parameters of the method: builtin, a `file` from fit, or the name of a built-in model: "+strings.Join(config.ModelNames(), ", "))
	return f
}

// addScoringFlags adds the flags that set the scoring rules and the strata.
func (f *configFlags) addScoringFlags() *configFlags {
	f.addRuleFlags()
	f.set.Var(textFlag{&f.given.Overlap, "action"}, "training-overlap", "people that the model was fitted to: refuse stops with an error, leave-out does not score them, score scores them and says so")
	f.addUnreadTablesFlag()
	f.set.StringSliceVar(&f.given.Scoring.Strata, "strata", nil, "`labels` to split the scores by, separated by commas; by default all labels with few values")
	return f
}

// addUnreadTablesFlag adds the flag of commands that fit or score.
func (f *configFlags) addUnreadTablesFlag() {
	f.set.Var(textFlag{&f.given.UnreadTables, "action"}, "unread-tables", "a missing or unreadable table by which the layout tells people apart: refuse stops with an error, accept warns")
}

// addRuleFlags adds the flags that set the scoring rules and the bootstrap.
func (f *configFlags) addRuleFlags() {
	s := &f.given.Scoring
	f.set.StringVar(&s.Anchor, "anchor", s.Anchor, "`point` of a sound to compare: centre, onset or offset")
	f.set.Var(textFlag{&s.Tolerance, "time"}, "tolerance", "largest time difference that counts as a match; 0s is that of the reference: 60ms, or 100ms for an ECG")
	f.set.IntVar(&s.Resamples, "resamples", s.Resamples, "number of bootstrap resamples over people")
	f.set.Uint64Var(&s.Seed, "seed", s.Seed, "random seed for the bootstrap")
}

// addWindowFlags adds the flags that say how recordings are cut into windows.
func (f *configFlags) addWindowFlags() *configFlags {
	rules := config.DefaultWindowRules()
	f.given.Windows = &rules
	f.set.StringVar(&rules.Align, "align", rules.Align, "`start` of each window: cycle or fixed")
	f.set.Var(textFlag{&rules.Length, "time"}, "length", "length of a window")
	f.set.Var(textFlag{&rules.Hop, "time"}, "hop", "time from one fixed window to the next")
	f.set.StringVar(&rules.Format, "format", rules.Format, "`format` of the windows: parquet, or npy for NumPy files beside the table")
	return f
}

// load replaces the given values by those of the configuration file, and sets the
// flags on the command line again.
func (f *configFlags) load() error {
	c, err := config.Load(f.file)
	if err != nil {
		return err
	}
	var again []func() error
	f.set.Visit(func(flag *pflag.Flag) {
		if list, ok := flag.Value.(pflag.SliceValue); ok {
			values := list.GetSlice()
			again = append(again, func() error { return list.Replace(values) })
			return
		}
		text := flag.Value.String()
		again = append(again, func() error { return flag.Value.Set(text) })
	})
	if rules := f.given.Windows; rules != nil {
		if c.Windows != nil {
			*rules = *c.Windows
		}
		c.Windows = rules
	}
	f.given = c
	for _, set := range again {
		err = errors.Join(err, set())
	}
	return err
}

// config returns the configuration: that of the file, overridden by the flags
// on the command line.
func (f *configFlags) config() (config.Config, error) {
	if f.file != "" {
		if err := f.load(); err != nil {
			return f.given, err
		}
	}
	c := f.given
	if len(f.data)+len(f.layouts) > 0 {
		var err error
		if c.Inputs, err = f.sources(); err != nil {
			return c, err
		}
	}
	if f.set.Changed("follow-links") {
		for i := range c.Inputs {
			c.Inputs[i].FollowLinks = f.follow
		}
	}
	if len(c.Inputs) == 0 {
		return c, usageError{errors.New("no data: give a folder with --data and its layout with --layout")}
	}
	switch {
	case c.Overwrite && c.Resume:
		return c, usageError{errors.New("give --resume or --overwrite, not both")}
	case c.Overwrite && c.Shard.Of > 0:
		return c, usageError{errors.New("--overwrite with --shard would remove what other shards made: remove the folder, then start all shards")}
	}
	if err := checkOutside(c.Inputs, c.Out); err != nil {
		return c, err
	}
	if err := c.SetOptions(f.options); err != nil {
		return c, usageError{err}
	}
	if err := c.SetFitOptions(f.fit); err != nil {
		return c, usageError{err}
	}
	return c, f.check(c)
}

// check refuses values that no run can use. Where they can only come from the command
// line, it was called wrongly.
func (f *configFlags) check(c config.Config) error {
	err := c.Check()
	if err != nil && f.file == "" {
		return usageError{err}
	}
	return err
}

// sources pairs each --data with its --layout.
func (f *configFlags) sources() ([]config.Input, error) {
	if len(f.data) != len(f.layouts) {
		return nil, usageError{fmt.Errorf("--data is given %d times and --layout %d times: each data set needs both", len(f.data), len(f.layouts))}
	}
	var sources []config.Input
	for i := range f.data {
		sources = append(sources, config.Input{Data: f.data[i], Layout: f.layouts[i], FollowLinks: f.follow})
	}
	return sources, nil
}

// needOut refuses to go on without an output folder.
func needOut(folder string) error {
	if folder == "" {
		return usageError{errors.New("no output folder: give one with --out")}
	}
	return nil
}

var errNoStates = usageError{errors.New("no states: give the folder that run or segment wrote with --states")}

// resultFlags are the flags of commands that read the output folders of runs.
type resultFlags struct{ folders, names []string }

func addResultFlags(cmd *cobra.Command) *resultFlags {
	f := &resultFlags{}
	cmd.Flags().StringArrayVar(&f.folders, "results", nil, "output `folder` of a run; repeat for several runs")
	return f
}

// addNamesFlag adds the flag of commands that print the names of runs.
func (f *resultFlags) addNamesFlag(cmd *cobra.Command) *resultFlags {
	cmd.Flags().StringArrayVar(&f.names, "name", nil, "`name` to print for a run, in the order of --results; by default the name of its folder")
	return f
}

// check refuses to go on with fewer than n folders.
func (f *resultFlags) check(n int) error {
	if len(f.folders) < n {
		return usageError{fmt.Errorf("too few results: give %d or more output folders, each with --results", n)}
	}
	return nil
}

func addJSONFlag(cmd *cobra.Command) *bool {
	return cmd.Flags().Bool("json", false, "print the result as JSON")
}

// tableFlag is the format of a table that is printed in place of text. The
// zero value means text.
type tableFlag struct{ format tabular.Format }

func addTableFlag(cmd *cobra.Command) *tableFlag {
	f := &tableFlag{}
	cmd.Flags().Var(f, "table", "print a table for a paper: markdown, latex, csv, html or text")
	return f
}

func (f *tableFlag) String() string { return string(f.format) }
func (f *tableFlag) Type() string   { return "format" }
func (f *tableFlag) Set(name string) (err error) {
	f.format, err = tabular.ParseFormat(name)
	return err
}
