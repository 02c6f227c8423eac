package pipeline

import "phonocycle/pipeline/table"

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
		if err := checkInputs(done.Path(part), j.Corpus); err != nil {
			return nil, err
		}
	}
	return missing, nil
}
