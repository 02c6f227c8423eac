package pipeline

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"phonocycle/pipeline/table"
)

// manifestFile is the name of the manifest in an output folder.
const manifestFile = "manifest.json"

// Manifest traces tables to what made them: the plan, the machine, the time and
// a digest over all inputs.
type Manifest struct {
	Plan
	InputDigest string    `json:"input_digest"` // of the digests of all audio files, in the order of recordings
	Counts      Counts    `json:"counts"`
	Problems    []Problem `json:"problems,omitempty"` // the first of them; all are in the recordings table
	Warnings    []string  `json:"warnings,omitempty"`
	Written     []string  `json:"written"`
	Started     time.Time `json:"started"`
	Ended       time.Time `json:"ended"`
	Workers     int       `json:"workers"`
	Host        string    `json:"host"`
	Go          string    `json:"go"`
	Platform    string    `json:"platform"`
}

// finish writes what stands on all recordings of t: the table of people, the
// summary and the manifest. Where t is nil, it is read from the tables.
func (j *job) finish(ctx context.Context, started time.Time, t *tally, p Progress) (*Report, error) {
	if t == nil {
		var err error
		if t, err = j.readTally(ctx, p); err != nil {
			return nil, err
		}
	}
	report := t.report
	report.Warnings = append(j.plan.warnings(), j.warnings...)
	report.Written = j.written("recordings")
	if j.writesStates() {
		report.Written = append(report.Written, j.written("states")...)
	}
	if j.extracts {
		report.Written = append(report.Written, j.written("cycles", "people")...)
		if err := t.readPeople(); err != nil {
			return nil, err
		}
		report.Warnings = append(report.Warnings, t.varying...)
	}
	if j.cuts {
		report.Written = append(report.Written, j.written("windows")...)
	}
	if j.foldModels != nil {
		report.Written = append(report.Written, j.written(modelsFolder)...)
	}
	if j.scores {
		report.Summary = t.scores.Summary()
		if err := writeSummary(j.config.Out, report.Summary); err != nil {
			return nil, err
		}
		report.Written = append(report.Written, j.written("matches", "scores", summaryFile)...)
	}
	report.Written = append(report.Written, j.written(planFile, manifestFile)...)
	report.Elapsed = time.Since(started)
	return report, j.writeManifest(report, hex.EncodeToString(t.inputs.Sum(nil)), started)
}

// count reads the recordings table of an output folder and writes the digests of
// their audio into inputs.
func (r *Report) count(dir string, inputs io.Writer) error {
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			return err
		}
		if err := r.add(&row, inputs); err != nil {
			return err
		}
	}
	return nil
}

// add counts one row of the recordings table and writes the digest of its audio
// into digests.
func (r *Report) add(row *table.Recording, digests io.Writer) error {
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

func (j *job) writeManifest(r *Report, inputs string, started time.Time) error {
	host, _ := os.Hostname()
	m := Manifest{
		Plan: j.plan, InputDigest: inputs, Counts: r.Counts, Problems: r.Problems, Warnings: r.Warnings,
		Started: started.UTC(), Ended: time.Now().UTC(), Workers: j.config.Workers,
		Host: host, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH,
	}
	for _, w := range r.Written {
		rel, err := filepath.Rel(j.config.Out, w)
		if err != nil {
			return fmt.Errorf("manifest: %w", err)
		}
		m.Written = append(m.Written, filepath.ToSlash(rel))
	}
	slices.Sort(m.Written)
	content, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return fmt.Errorf("manifest: %w", err)
	}
	return table.WriteFileAtomic(filepath.Join(j.config.Out, manifestFile), append(content, '\n'))
}
