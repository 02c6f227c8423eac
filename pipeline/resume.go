package pipeline

import (
	"fmt"

	"phonocycle/pipeline/table"
)

// missingParts returns the parts of this shard that have to be made, after
// checking that the inputs of the others are what they were.
func (j *job) missingParts() ([]int, error) {
	done := table.PartsOf[table.Recording](j.Config.Out)
	var missing []int
	for part := range j.Plan.Parts() {
		if !j.Config.Shard.Has(part) {
			continue
		}
		files, err := j.missingFiles(part)
		if err != nil {
			return nil, err
		}
		if len(files) > 0 {
			missing = append(missing, part)
			continue
		}
		if err := j.checkPart(part); err != nil {
			return nil, err
		}
		if err := j.checkInputs(done.Path(part)); err != nil {
			return nil, err
		}
	}
	return missing, nil
}

// checkInputs makes sure that the audio and the reference of each recording of a
// finished part, and what the data set says of it, are still what the part was
// made from.
func (j *job) checkInputs(path string) error {
	for row, err := range table.Read[table.Recording](path) {
		if err != nil {
			return err
		}
		e, ok := j.Corpus.Find(row.Recording)
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
