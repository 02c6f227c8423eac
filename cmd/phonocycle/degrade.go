package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/degraded"
	"phonocycle/pipeline/synth/degrade"
)

func newDegrade() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "degrade --data DIR --layout NAME --condition LIST --out DIR",
		Short: "Copy a data set with noise, another rate, clipping or gaps",
		Long: `Copies a data set with changed audio, to see how methods fare under poor conditions
or to fit them there. The condition is a list of changes, which are made in its
order:

  noise=pink,snr=5            noise at 5 dB in the band of 25 to 400 Hz: white, pink,
                              brown, or a folder of WAV files. The signal is the median
                              over windows of one second
  rate=500                    another sampling rate, in hertz
  bits=8                      quantisation to so many bits
  clip=0.01                   clipping of this share of the samples
  low-cut=40, high-cut=150    frequencies below or above removed, in hertz
  gaps=0.05,gap-length=200ms  stretches of zeros, of this total share and length

Audio is written as WAV files of one channel under the same names: 16-bit PCM, or
32-bit float for recordings of more bits and where samples lie beyond full scale, so
that nothing is clipped or scaled. References, tables and all other files are copied as
they are, but for WAV files that the layout does not read. Recordings that cannot be
read are copied as they are, and listed.

The same condition and seed give the same bytes. Each recording has random numbers of
its own. The file condition.json says what was done. All commands that read the copy
state the condition beside their results. A copy of a copy goes through both conditions.

To change the audio without a copy, give --condition to run, segment, extract, windows
or crossval: the results are the same.`,
		Example: `  phonocycle degrade --data circor --layout circor --condition noise=pink,snr=5 --out circor-5-db
  phonocycle run --data circor-5-db --layout circor --method shannon-peaks --out peaks-5-db`,
	}
	f := &configFlags{set: cmd.Flags(), given: config.Default()}
	f.addDataFlags()
	f.addChannelFlag().addWorkersFlag()
	var o degraded.Options
	f.set.StringVar(&f.given.Condition, "condition", "", "`list` of changes of the audio, such as noise=pink,snr=5")
	f.set.Uint64Var(&o.Seed, "seed", 1, "random seed of the condition")
	f.set.StringVar(&f.given.Out, "out", "", "output `folder`; it must be empty or new")
	addOverwriteFolderFlag(f.set, &o.Overwrite)
	asJSON := addJSONFlag(cmd)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c, err := f.config()
		if err != nil {
			return err
		}
		if o.Condition, err = degrade.Parse(c.Condition); err != nil {
			return err // checked with the configuration
		}
		switch {
		case o.Condition.Empty():
			return usageError{errors.New("no condition: say with --condition how the audio is changed, as in " + degrade.Examples()[0])}
		case len(c.Inputs) > 1:
			return usageError{errors.New("--data is given more than once: copy one data set at a time")}
		}
		if err := needOut(c.Out); err != nil {
			return err
		}
		o.Input, o.Channel, o.Out, o.Workers = c.Inputs[0], c.Channel, c.Out, c.Workers
		r, err := degraded.Write(cmd.Context(), o, newProgress(cmd.ErrOrStderr()))
		if err != nil {
			return err
		}
		return printDegraded(cmd.OutOrStdout(), r, c.Out, *asJSON)
	}
	return cmd
}

// printDegraded prints what degrade did. It returns errPartly if recordings are not in
// the copy.
func printDegraded(w io.Writer, r *degraded.Report, out string, asJSON bool) error {
	changed, unchanged, failed := r.Count(dataset.CopyChanged), r.Count(dataset.CopyUnchanged), r.Count(dataset.CopyFailed)
	if asJSON {
		err := printJSON(w, struct {
			Changed   int           `json:"changed"`
			Unchanged int           `json:"unchanged"`
			Failed    int           `json:"failed"`
			Copy      *dataset.Copy `json:"copy"`
			Warnings  []string      `json:"warnings"`
			Written   []string      `json:"written"`
			Seconds   float64       `json:"seconds"`
		}{changed, unchanged, failed, r.Copy, orEmpty(r.Warnings), []string{out}, r.Elapsed.Round(time.Millisecond).Seconds()})
		if err != nil {
			return err
		}
	} else {
		printDegradedText(w, r, changed, unchanged, failed)
		printWritten(w, []string{out, filepath.Join(out, dataset.CopyFile)})
	}
	if failed > 0 {
		return errPartly
	}
	return nil
}

func printDegradedText(w io.Writer, r *degraded.Report, changed, unchanged, failed int) {
	c := r.Copy
	fmt.Fprintf(w, "%s, audio changed by %v\n", strings.TrimSpace(c.Title+" "+c.Version), c.Changes)
	fmt.Fprintf(w, "%d recordings: %d changed, %d copied as they are, %d not copied; %.1f s\n",
		len(c.Recordings), changed, unchanged, failed, r.Elapsed.Seconds())
	const most = 20
	listed := 0
	for i := range c.Recordings {
		if rec := &c.Recordings[i]; rec.Outcome != dataset.CopyChanged {
			if listed++; listed <= most {
				fmt.Fprintf(w, "  %s %s: %s\n", rec.Outcome, rec.Recording, rec.Reason)
			}
		}
	}
	if listed > most {
		fmt.Fprintf(w, "  … and %d more; %s has all of them\n", listed-most, dataset.CopyFile)
	}
	fmt.Fprintf(w, "%d other files copied", len(c.Files))
	if n := len(c.LeftOut); n > 0 {
		fmt.Fprintf(w, ", %d WAV files left out that the layout does not read, the first is %s", n, dataset.Printable(c.LeftOut[0]))
	}
	fmt.Fprintln(w)
	for _, warning := range r.Warnings {
		fmt.Fprintln(w, "warning:", warning)
	}
	fmt.Fprintln(w)
}
