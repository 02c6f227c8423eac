package pipeline

import (
	"errors"
	"fmt"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/table"
)

// changedInput says which input of a recording is not the one that its row was
// made from; empty where none has changed.
func changedInput(e *corpus.Entry, row *table.Recording) (string, error) {
	if row.LabelsDigest != e.LabelsDigest() {
		return "what the data set says of it" + e.Sources() + " has changed", nil
	}
	if row.AudioDigest != "" {
		digest, err := e.Set.FileDigest(e.Recording.Audio)
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

// namesChange adds to the refusal of a plan that lists other recordings the first
// recording of a finished part that has changed.
func (j *job) namesChange(refused error) error {
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
			e, ok := j.Corpus.Find(row.Recording)
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

// checkData makes sure that the data sets of a complete output folder are still
// what all its parts were made from.
func (j *job) checkData(inputs []config.Input) error {
	opened, err := corpus.Open(inputs)
	if err != nil {
		return err
	}
	defer opened.Close()
	empty := j.Corpus
	j.Corpus = opened
	defer func() { j.Corpus = empty }()
	if err := j.Plan.CheckData(opened.DataSets); err != nil {
		return j.namesChange(fmt.Errorf("output folder %s: %w", j.Config.Out, err))
	}
	recordings := table.PartsOf[table.Recording](j.Config.Out)
	for part := range j.Plan.Parts() {
		if err := j.checkInputs(recordings.Path(part)); err != nil {
			return err
		}
	}
	return nil
}
