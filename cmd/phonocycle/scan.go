package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
)

func newScan() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "scan --data DIR --layout NAME",
		Short: "Print the inventory and the defects of a data set",
		Long: `Prints the inventory of a data set (recordings, people, hours, sampling rates,
labels, heart rates of the reference) and each defect by file and line, with what
run does about it.`,
		Example: `  phonocycle scan --data circor --layout circor
  phonocycle scan --data circor --layout circor --json`,
	}
	flags := addSourceFlags(cmd)
	asJSON := addJSONFlag(cmd)
	all := cmd.Flags().Bool("all", false, "list every defect instead of the first five of each kind")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		c, err := flags.config()
		if err != nil {
			return err
		}
		limit := 5 // defects of each kind
		if *all {
			limit = -1
		}
		var inventories []*dataset.Inventory
		for _, src := range c.Sources {
			inv, err := scanSource(cmd, src.Data, src.Layout)
			if err != nil {
				return err
			}
			inventories = append(inventories, inv)
		}
		if *asJSON {
			e := json.NewEncoder(cmd.OutOrStdout())
			e.SetIndent("", "  ")
			return e.Encode(inventories)
		}
		for i, inv := range inventories {
			if i > 0 {
				fmt.Fprintln(cmd.OutOrStdout())
			}
			if err := inv.WriteText(cmd.OutOrStdout(), limit); err != nil {
				return err
			}
		}
		return nil
	}
	return cmd
}

// scanSource takes the inventory of one data set.
func scanSource(cmd *cobra.Command, data, layoutName string) (*dataset.Inventory, error) {
	layout, err := dataset.LoadLayout(layoutName)
	if err != nil {
		return nil, err
	}
	set, err := dataset.Open(data, layout)
	if err != nil {
		return nil, err
	}
	defer set.Close()
	progress := newProgress(cmd.ErrOrStderr())
	progress.Start("scan", len(set.Recordings))
	defer progress.Done()
	step := func() { progress.Step(1) }
	var decoder audio.Decoder
	probe := func(s *dataset.Set, path string) (int, time.Duration, error) {
		content, err := s.ReadFile(path)
		if err != nil {
			return 0, 0, err
		}
		clip, err := decoder.Decode(bytes.NewReader(content))
		if err != nil {
			return 0, 0, err
		}
		return clip.Rate, clip.Duration(), nil
	}
	return set.Scan(cmd.Context(), probe, step)
}
