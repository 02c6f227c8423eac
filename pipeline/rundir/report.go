package rundir

import (
	"fmt"
	"io"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// Report says what a stage did.
type Report struct {
	Counts   Counts
	Selected string        // how many recordings lists selected, see Plan.Selected; empty without lists
	Cost     *Cost         // nil where no method segments
	Problems []Problem     // the first recordings that failed or were excluded, in their order
	Summary  *eval.Summary // nil where nothing was scored
	Written  []string      // paths of files and folders
	Warnings []string
	Elapsed  time.Duration

	InputDigest string // of the digests of all audio files, in the order of recordings
}

// Counts add up: In = Done + Failed + Excluded.
type Counts struct {
	In       int `json:"in"`
	Done     int `json:"done"`
	Failed   int `json:"failed"`
	Excluded int `json:"excluded"`
}

// maxProblems bounds the problems held in memory. The recordings table has all
// of them.
const maxProblems = 1000

// Problem is a recording without a segmentation or a score, and the reason.
type Problem struct {
	Recording string `json:"recording"`
	Outcome   string `json:"outcome"`
	Reason    string `json:"reason"`
}

// Add counts one row of the recordings table and writes the digest of its audio
// into digests.
func (r *Report) Add(row *table.Recording, digests io.Writer) error {
	if _, err := io.WriteString(digests, row.AudioDigest+"\n"); err != nil {
		return err
	}
	r.Counts.In++
	switch row.Outcome {
	case table.Done:
		r.Counts.Done++
		return nil
	case table.Failed:
		r.Counts.Failed++
	case table.Excluded:
		r.Counts.Excluded++
	default:
		return fmt.Errorf("recording %s has the outcome %q, which no stage writes", row.Recording, row.Outcome)
	}
	if len(r.Problems) < maxProblems {
		r.Problems = append(r.Problems, Problem{row.Recording, row.Outcome, row.Reason})
	}
	return nil
}

// AddTable counts the recordings table of an output folder and writes the
// digests of the audio into digests.
func (r *Report) AddTable(dir string, digests io.Writer) error {
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			return err
		}
		if err := r.Add(&row, digests); err != nil {
			return err
		}
	}
	return nil
}
