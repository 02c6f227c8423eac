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
		there, err := done.Exists(part)
		if err != nil {
			return nil, fmt.Errorf("output folder %s: %w", j.Config.Out, err)
		}
		if !there {
			missing = append(missing, part)
			continue
		}
		if err := j.checkInputs(done.Path(part)); err != nil {
			return nil, err
		}
	}
	return missing, nil
}

// checkInputs makes sure that the audio of a finished part is still what it was
// made from.
func (j *job) checkInputs(path string) error {
	for row, err := range table.Read[table.Recording](path) {
		if err != nil {
			return fmt.Errorf("%w; remove it, and it is made again", err)
		}
		if row.AudioDigest == "" {
			continue
		}
		e, ok := j.Corpus.Find(row.Recording)
		if !ok {
			return fmt.Errorf("%s holds recording %s, which the data set no longer has; give another folder with --out", path, row.Recording)
		}
		digest, err := e.Set.AudioDigest(e.Recording.Audio)
		if err != nil {
			return fmt.Errorf("recording %s, already in %s: %w; or give another folder with --out", row.Recording, path, err)
		}
		if digest != row.AudioDigest {
			return fmt.Errorf("recording %s: %s has changed since %s was made from it; restore the file, or give another folder with --out",
				row.Recording, e.Recording.Audio, path)
		}
	}
	return nil
}
