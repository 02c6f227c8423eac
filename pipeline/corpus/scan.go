package corpus

import (
	"context"
	"time"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/workers"
)

// Scan takes the inventory of every data set: what it holds, and what is wrong
// with its tables, its annotations and its audio, of which it reads a channel as
// [config.Config] names it.
func (c *Corpus) Scan(ctx context.Context, channel int, p workers.Progress) ([]*dataset.Inventory, error) {
	p.Start("scan", len(c.Entries))
	defer p.Done()
	decoder := audio.Decoder{Channel: channel}
	probe := func(s *dataset.Set, path string) (int, time.Duration, error) {
		file, err := s.OpenAudio(path, channel)
		if err != nil {
			return 0, 0, err
		}
		defer file.Close()
		clip, err := openClip(&decoder, file)
		if err == nil {
			err = decoder.ReadSamples()
		}
		if err != nil {
			return 0, 0, err
		}
		return clip.Rate, clip.Duration(), nil
	}
	var inventories []*dataset.Inventory
	for _, s := range c.Sets {
		inventory, err := s.Scan(ctx, probe, func() { p.Step(1) })
		if err != nil {
			return nil, err
		}
		warnings, err := c.checkUnits(ctx, s, channel)
		if err != nil {
			return nil, err
		}
		inventory.Warnings = append(inventory.Warnings, warnings...)
		if selected := rundir.Selected(c.DataSets, c.Selection); selected != "" {
			inventory.Notes = append(inventory.Notes, selected)
		}
		inventories = append(inventories, inventory)
	}
	return inventories, nil
}
