package rundir

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/table/atomicfile"
)

// Cost is what a run cost in seconds of processor time. It differs from machine to
// machine and from run to run, so that it stands in no table.
type Cost struct {
	// Fitting is the time of the whole process during the fits, with that of processes
	// that it started: reading their examples included. Fits is their number.
	Fitting float64 `json:"fitting_s"`
	Fits    int     `json:"fits,omitempty"`

	// Segmenting is the time of the method alone on the recordings: of the thread that
	// runs it, and of its own processes. Audio is how many hours of them it was given.
	Segmenting float64 `json:"segmenting_s"`
	Audio      float64 `json:"audio_h"`

	// Run is the time of the whole process: fits, reading, features and scores included.
	Run float64 `json:"run_s"`

	// Recordings is how many of the recordings of the run these times are about. Where
	// an interrupted run or a shard did not tell what it had spent, they are not all.
	Recordings int `json:"recordings"`

	// Clock says what Segmenting is measured by, without its processes: the time of the
	// processor, or, on systems other than Linux, the time elapsed.
	Clock string `json:"segmenting_clock"`
}

// Add adds the cost of another part of the run.
func (c *Cost) Add(other Cost) {
	c.Fitting, c.Fits = c.Fitting+other.Fitting, c.Fits+other.Fits
	c.Segmenting, c.Audio = c.Segmenting+other.Segmenting, c.Audio+other.Audio
	c.Run, c.Recordings = c.Run+other.Run, c.Recordings+other.Recordings
	c.Clock = other.Clock
}

// PerHour returns the seconds of segmenting an hour of audio, NaN where nothing was
// segmented.
func (c *Cost) PerHour() float64 {
	if c.Audio <= 0 {
		return math.NaN()
	}
	return c.Segmenting / c.Audio
}

// Words says the cost in one sentence. all is the number of recordings of the run.
func (c *Cost) Words(all int) string {
	if c.Recordings == 0 {
		return "processor time not known"
	}
	var parts []string
	if c.Fits > 0 {
		parts = append(parts, fmt.Sprintf("%.1f s for %s", c.Fitting, tabular.Plural(c.Fits, "fit", "fits")))
	}
	segmenting := fmt.Sprintf("%.1f s for segmenting %.2f h of audio (%.1f s per hour)", c.Segmenting, c.Audio, c.PerHour())
	if c.Audio == 0 {
		segmenting = "nothing segmented"
	}
	if c.Clock != cputime.Processor {
		segmenting += ", by the clock"
	}
	text := "processor time: " + strings.Join(append(parts, segmenting, fmt.Sprintf("%.1f s in all", c.Run)), ", ")
	if c.Recordings < all {
		text += fmt.Sprintf("; known of %d of %d recordings", c.Recordings, all)
	}
	return text
}

// ReadCost returns what the run in an output folder cost, and false where its
// manifest does not say.
func ReadCost(dir string) (Cost, bool, error) {
	var m struct {
		Cost *Cost `json:"cost"`
	}
	found, err := ReadJSON(filepath.Join(dir, ManifestFile), &m)
	if err != nil || !found || m.Cost == nil || m.Cost.Recordings == 0 {
		return Cost{}, false, err
	}
	return *m.Cost, true, nil
}

// A run that writes no manifest, since it was interrupted or is a shard, leaves its
// cost in a file of its own to the one that does.
var costFileName = regexp.MustCompile(`^cost(-\d+-of-\d+)?\.json$`)

func costFile(s config.Shard) string {
	if s.Of == 0 {
		return "cost.json"
	}
	return fmt.Sprintf("cost-%d-of-%d.json", s.Index, s.Of)
}

// LeaveCost adds the cost of a run that writes no manifest to what the folder has of
// its shard.
func LeaveCost(dir string, s config.Shard, cost Cost) error {
	path := filepath.Join(dir, costFile(s))
	var sum Cost
	if _, err := ReadJSON(path, &sum); err != nil {
		sum = Cost{} // it is damaged, and the sum then says that it is not of all recordings
	}
	sum.Add(cost)
	return WriteJSON(path, &sum)
}

// EarlierCost returns what earlier runs of a folder left, in files of their own or in
// the manifest, for a run that writes the manifest; nothing where that is not known.
// most is the number of recordings that were there before it: a cost of more is that
// of parts that are gone.
func EarlierCost(dir string, most int) (sum Cost) {
	files := costFiles(dir)
	for _, path := range files {
		var c Cost
		if _, err := ReadJSON(path, &c); err == nil {
			sum.Add(c)
		}
	}
	if len(files) == 0 {
		sum, _, _ = ReadCost(dir)
	}
	if sum.Recordings > most {
		return Cost{}
	}
	return sum
}

// RemoveCosts removes the files of earlier runs, whose sum is in the manifest.
func RemoveCosts(dir string) (err error) {
	for _, path := range costFiles(dir) {
		err = errors.Join(err, atomicfile.Remove(path))
	}
	return err
}

func costFiles(dir string) (files []string) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if costFileName.MatchString(e.Name()) {
			files = append(files, filepath.Join(dir, e.Name()))
		}
	}
	return files
}
