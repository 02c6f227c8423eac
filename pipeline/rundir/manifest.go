package rundir

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"
)

// Manifest says how tables were made: the plan, a digest of all inputs, the
// counts, the machine and the times.
type Manifest struct {
	Plan
	InputDigest string    `json:"input_digest"` // of the digests of all audio files, in the order of recordings
	Counts      Counts    `json:"counts"`
	Cost        *Cost     `json:"cost,omitempty"`     // of a run by a method
	Problems    []Problem `json:"problems,omitempty"` // the first of them; the recordings table has all
	Warnings    []string  `json:"warnings,omitempty"`
	Written     []string  `json:"written"`
	Started     time.Time `json:"started"`
	Ended       time.Time `json:"ended"`
	Workers     int       `json:"workers"`
	Host        string    `json:"host"`
	Go          string    `json:"go"`
	Platform    string    `json:"platform"`
}

// WriteManifest writes the manifest of the plan into folder dir, in which the
// named files and tables were written.
func (p *Plan) WriteManifest(dir string, r *Report, written []string, workers int, started time.Time) error {
	host, _ := os.Hostname()
	return WriteJSON(filepath.Join(dir, ManifestFile), Manifest{
		Plan: *p, InputDigest: r.InputDigest, Counts: r.Counts, Cost: r.Cost, Problems: r.Problems, Warnings: r.Warnings,
		Written: slices.Sorted(slices.Values(written)),
		Started: started.UTC(), Ended: time.Now().UTC(), Workers: workers,
		Host: host, Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH,
	})
}
