package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/study"
)

func newStudy() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "study FILE|NAME --out DIR",
		Short: "Compare methods over data sets, designs and conditions from one file",
		Long: `Runs methods by several designs under several conditions, as a YAML file says, and
writes their scores as one study. A built-in study is called by its name: ` + strings.Join(study.Names(), ", ") + `.

  title: Two methods under noise
  data-sets:                     # name, folder, layout; optional: reference, people,
                                 # recordings, follow-links
    - {name: circor, folder: circor, layout: circor}
    - {name: pascal, folder: pascal, layout: pascal}
  methods:                       # name, and method or config; optional: options, fit, model
    - {name: liang-1997, config: liang-1997}
    - {name: my method, method: ./my-method.yaml, options: {threshold: 0.3}}
  conditions:                    # as degrade takes them; clean is the audio as it is
    - clean
    - noise=pink,snr=5
  designs:                       # the columns of the tables; optional: methods, conditions,
                                 # reference, training-overlap, folds, fold-seed
    - {name: circor, cross-validate: circor}
    - {name: pascal, fit-on: circor, score-on: pascal}
    - {name: built-in, model: builtin, score-on: pascal}
  scoring: {tolerance: 60ms}     # optional: anchor, tolerance, resamples, seed, strata

Each method by each design under each condition is a cell: an output folder below
cells, which score, compare, report and audit read. Models are fitted once per design
and used under all conditions. A cell that is there is not made again, whichever study
made it in this folder: after an interrupt, the same command goes on. A cell that fails
has a reason, the others go on, and the exit status is 3.

Writes study.json, study-cost.json, the folder tables and the page study.html when all
cells were asked for. With --only or --shard it only makes cells; call it without them
for the results.`,
		Example: `  phonocycle study noise.yaml --data . --out noise-study --list
  phonocycle study noise.yaml --data . --out noise-study`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return misuse(cmd, fmt.Errorf("want one study: a YAML file, or the name of a built-in one: %s", strings.Join(study.Names(), ", ")))
			}
			return nil
		},
	}
	o := study.Options{Workers: config.Default().Workers}
	set := cmd.Flags()
	set.StringVar(&o.Data, "data", "", "`folder` with the folders of the data sets; by default that of the study file, and the current one for a built-in study")
	set.StringVar(&o.Out, "out", "", "output `folder`; studies with the same one share cells and models")
	set.StringArrayVar(&o.Only, "only", nil, "make only the cells whose method, design or condition is `NAME`, in which * stands for any characters; of several --only, all must fit")
	set.Var(textFlag{&o.Shard, "i/n"}, "shard", "make only the i-th of n shares of the cells, on one of n machines")
	set.IntVar(&o.Workers, "workers", o.Workers, "number of recordings to process at the same time")
	list := set.Bool("list", false, "list the cells and which of them are done, and make none")
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := needOut(o.Out); err != nil {
			return err
		}
		check := config.Default()
		check.Workers, check.Shard = o.Workers, o.Shard
		if err := check.Check(); err != nil {
			return usageError{err}
		}
		f, err := study.Load(args[0])
		if err != nil {
			return err
		}
		if err := checkOutside(f.Inputs(o.Data), o.Out); err != nil {
			return err
		}
		if *list {
			err = listStudy(cmd.OutOrStdout(), f, o, *asJSON)
		} else {
			err = runStudy(cmd, f, o, *asJSON)
		}
		if errors.Is(err, study.ErrNoCell) {
			return usageError{err}
		}
		return err
	}
	return cmd
}

// listStudy lists the cells of a study.
func listStudy(w io.Writer, f *study.File, o study.Options, asJSON bool) error {
	states, err := study.List(f, o)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(w, states)
	}
	done, faults := 0, 0
	for _, s := range states {
		word, where := "to do", filepath.Join(o.Out, filepath.FromSlash(s.Folder))
		switch {
		case s.Done:
			word = "done"
			done++
		case s.Fault != "":
			word, where = "fails", s.Fault
			faults++
		}
		fmt.Fprintf(w, "%-5s  %s  (%s)\n", word, s.Cell, where)
	}
	fmt.Fprintf(w, "%d cells: %d done, %d to do, %d that fail as it is\n", len(states), done, len(states)-done-faults, faults)
	return nil
}

// runStudy makes the cells of a study and prints its results. It returns errPartly if
// cells failed.
func runStudy(cmd *cobra.Command, f *study.File, o study.Options, asJSON bool) error {
	r, err := study.Run(cmd.Context(), f, o, newProgressOf("cells", cmd.ErrOrStderr()))
	if err != nil {
		return err
	}
	w := cmd.OutOrStdout()
	if asJSON {
		err = printJSON(w, struct {
			*study.Report
			Seconds float64 `json:"seconds"`
		}{r, r.Elapsed.Seconds()})
	} else {
		err = printStudy(w, r)
	}
	if err == nil && len(r.Faults) > 0 {
		err = errPartly
	}
	return err
}

func printStudy(w io.Writer, r *study.Report) error {
	fmt.Fprintf(w, "%d cells: %d done, of which %d now, %d failed; %.1f s\n", r.Cells, r.Done, r.Made, len(r.Faults), r.Elapsed.Seconds())
	for _, fault := range r.Faults {
		fmt.Fprintf(w, "  failed %s: %s\n", fault.Cell, fault.Reason)
	}
	if r.Study == nil {
		fmt.Fprintf(w, "A part of the study: call it without --only and --shard for the results.\n\n%s\n", caution)
		return nil
	}
	fmt.Fprintln(w)
	if err := r.Study.WriteText(w); err != nil {
		return err
	}
	fmt.Fprintln(w)
	printWritten(w, r.Written)
	return nil
}
