package pipeline

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"phonocycle/eval"
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

// finish does what needs all parts: it counts, scores and writes the manifest.
func (j *job) finish(ctx context.Context, started time.Time, p Progress) (*Report, error) {
	report := &Report{Warnings: append(j.plan.warnings(), j.warnings...)}
	inputs, err := report.count(j.config.Out)
	if err != nil {
		return nil, err
	}
	report.Written = j.written("recordings")
	if j.writesStates() {
		report.Written = append(report.Written, j.written("states")...)
	}
	if j.extracts {
		report.Written = append(report.Written, j.written("cycles", "people")...)
		warnings, err := writePeople(j.config.Out, j.plan.metadata())
		if err != nil {
			return nil, err
		}
		report.Warnings = append(report.Warnings, warnings...)
	}
	if j.cuts {
		report.Written = append(report.Written, j.written("windows")...)
	}
	if j.foldModels != nil {
		report.Written = append(report.Written, j.written(modelsFolder)...)
	}
	if j.scores {
		s := scoring{from: j.config.Out, out: j.config.Out, known: j.config.Known, metadata: j.plan.metadata()}
		if err := s.summarise(ctx, &j.config, j.plan.parts(), report, p); err != nil {
			return nil, err
		}
		report.Written = append(report.Written, j.written("matches", "scores", summaryFile)...)
	}
	report.Written = append(report.Written, j.written(planFile, manifestFile)...)
	report.Elapsed = time.Since(started)
	return report, j.writeManifest(report, inputs, started)
}

// summarise scores the parts of s and writes the summary.
func (s *scoring) summarise(ctx context.Context, c *Config, parts int, report *Report, p Progress) (err error) {
	if s.rules, err = rulesOf(c); err != nil {
		return err
	}
	acc := eval.NewAccumulator(s.rules, eval.Options{Resamples: c.Scoring.Resamples, Seed: c.Scoring.Seed, Strata: c.Scoring.Strata})
	each := func(_ *eval.Case, r *eval.Result) { acc.Add(r) }
	if err := s.score(ctx, parts, report.Counts.In, c.Workers, p, each); err != nil {
		return err
	}
	report.Summary = acc.Summary()
	return writeSummary(s.out, report.Summary)
}

// count reads the recordings table of an output folder and returns the digest
// of all inputs.
func (r *Report) count(dir string) (inputs string, err error) {
	digests := sha256.New()
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](dir)) {
		if err != nil {
			return "", err
		}
		if err := r.add(&row, digests); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(digests.Sum(nil)), nil
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
