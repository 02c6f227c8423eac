package pipeline

import (
	"errors"
	"fmt"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/setup"
	"phonocycle/pipeline/table"
)

// changedInput says which input of a recording is not the one that its row was
// made from; empty where none has changed.
func changedInput(e *corpus.Entry, row *table.Recording) (string, error) {
	if row.LabelsDigest != e.LabelsDigest() {
		return "what the data set says of it" + e.Sources() + " has changed", nil
	}
	if row.AudioDigest != "" {
		digest, err := e.Set.AudioDigest(e.Recording.Audio)
		if err != nil {
			return "", err
		}
		if digest != row.AudioDigest {
			return dataset.Printable(e.Recording.Audio) + " has changed", nil
		}
	}
	if row.ReferenceDigest != "" {
		digest, err := e.Set.ReferenceDigest(e.Recording)
		if err != nil {
			return "", err
		}
		if digest != row.ReferenceDigest {
			return dataset.Printable(e.Recording.Reference) + " has changed", nil
		}
	}
	return "", nil
}

// checkInputs makes sure that the audio and the reference of each recording of a
// finished part, and what the data set says of it, are still what the part was
// made from.
func checkInputs(path string, now *corpus.Corpus) error {
	for row, err := range table.Read[table.Recording](path) {
		if err != nil {
			return err
		}
		e, ok := now.Find(row.Recording)
		if !ok {
			return fmt.Errorf("%s holds recording %s, which the data set no longer has; give another folder with --out", path, row.Recording)
		}
		changed, err := changedInput(e, &row)
		if err != nil {
			return fmt.Errorf("recording %s, already in %s: %w; or give another folder with --out", row.Recording, path, err)
		}
		if changed != "" {
			return fmt.Errorf("recording %s: %s since %s was made from it; restore the file, or give another folder with --out",
				row.Recording, changed, path)
		}
	}
	return nil
}

// namesChange adds to the refusal of a plan that lists other recordings than the
// data have now the first recording of a finished part that has changed.
func (j *job) namesChange(refused error, now *corpus.Corpus) error {
	if !errors.Is(refused, rundir.ErrRecordings) {
		return refused
	}
	done := table.PartsOf[table.Recording](j.Config.Out)
	for part := range j.Plan.Parts() {
		if there, err := done.Exists(part); err != nil || !there {
			continue
		}
		for row, err := range table.Read[table.Recording](done.Path(part)) {
			if err != nil {
				return refused
			}
			e, ok := now.Find(row.Recording)
			if !ok {
				return fmt.Errorf("%w; the first is %s, which is no longer there", refused, row.Recording)
			}
			if row.LabelsDigest != e.LabelsDigest() {
				return fmt.Errorf("%w; the first is %s%s", refused, row.Recording, e.Sources())
			}
		}
	}
	return refused
}

// CheckInputs makes sure that the data sets and the lists of c are still what the complete
// output folder dir was made from.
func CheckInputs(dir string, c config.Config) error {
	plan, err := rundir.OpenTables(dir)
	if err != nil {
		return err
	}
	j := &job{Run: &setup.Run{Config: plan.Config, Plan: *plan}}
	j.Config.Out = dir
	return j.checkData(&c)
}

// checkData makes sure that the data sets of a complete output folder are still
// what all its parts were made from.
func (j *job) checkData(c *config.Config) error {
	now, err := corpus.Open(c.Inputs, corpus.Options{Reference: j.Plan.Reference, People: c.People, Recordings: c.Recordings})
	if err != nil {
		return err
	}
	defer now.Close()
	if err := j.Plan.CheckData(now.DataSets, now.Selection); err != nil {
		return j.namesChange(fmt.Errorf("output folder %s: %w", j.Config.Out, err), now)
	}
	recordings := table.PartsOf[table.Recording](j.Config.Out)
	for part := range j.Plan.Parts() {
		if err := checkInputs(recordings.Path(part), now); err != nil {
			return err
		}
	}
	return nil
}
