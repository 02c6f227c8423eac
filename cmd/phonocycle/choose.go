package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/choose"
	"phonocycle/pipeline/table/export"
)

func newChoose() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "choose --results DIR",
		Short: "Choose recordings by label, heart rate, quality and score",
		Long: `Prints the ids of recordings of a run, each with the reasons in words, as a list
that --recordings takes: for a lecture, or to look at what went wrong.

--where compares any column of the table recordings with a value, as in csv: a
label, duration_s, confidence or a feature. The heart rate is that of the states
that were measured. F1 counts S1 and S2 together, by the rules of the scores.

The cleanest recordings have no clipping and no clicks to speak of, and their S1
and S2 stand furthest out of systole and diastole (column sound_to_pause_db). A
murmur fills these: choose among recordings that are alike in it.`,
		Example: `  phonocycle choose --results circor-results --where murmur=Absent --rate 60-90 --cleanest 10 > normal.txt
  phonocycle run --data circor --layout circor --recordings normal.txt --training-overlap score --out normal
  phonocycle choose --results circor-results --worst 20`,
	}
	f := cmd.Flags()
	dir := f.String("results", "", "output `folder` of a run")
	where := addWhereFlag(f, "recordings to choose from")
	var o choose.Options
	f.Var(textFlag{&o.Rate, "range"}, "rate", "heart rate per minute, such as 60-90, 60- or -90")
	f.Var(textFlag{&o.Score, "range"}, "score", "F1 in percent, such as 90-100")
	cleanest := f.Int("cleanest", 0, "print this number of recordings, the cleanest first")
	best := f.Int("best", 0, "print this number of recordings, the best F1 first")
	worst := f.Int("worst", 0, "print this number of recordings, the worst F1 first")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) (err error) {
		if *dir == "" {
			return usageError{errors.New("no results: give the output folder of a run with --results")}
		}
		if o.Where, err = export.ParseConditions(*where); err != nil {
			return usageError{err}
		}
		if err := setOrder(&o, *cleanest, *best, *worst); err != nil {
			return err
		}
		c, err := choose.Choose(*dir, o)
		if err != nil {
			return err
		}
		if *asJSON {
			return printJSON(cmd.OutOrStdout(), c)
		}
		return c.WriteList(cmd.OutOrStdout(), caution)
	}
	return cmd
}

// setOrder sets the order that one of the numbers asks for.
func setOrder(o *choose.Options, cleanest, best, worst int) error {
	for _, by := range []struct {
		order choose.Order
		most  int
	}{{choose.Cleanest, cleanest}, {choose.Best, best}, {choose.Worst, worst}} {
		switch {
		case by.most < 0:
			return usageError{errors.New("--cleanest, --best and --worst take a number of recordings from 1")}
		case by.most > 0 && o.Most > 0:
			return usageError{errors.New("give one of --cleanest, --best and --worst")}
		case by.most > 0:
			o.Order, o.Most = by.order, by.most
		}
	}
	return nil
}
