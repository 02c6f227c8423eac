package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"sync"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// Report says what a stage did, for the one who called it.
type Report struct {
	Counts   Counts
	Problems []Problem     // the first recordings that failed or were excluded, in their order
	Summary  *eval.Summary // nil where nothing was scored
	Written  []string      // files and folders, below the output folder
	Warnings []string
	Elapsed  time.Duration
}

// Counts add up: In = Done + Failed + Excluded.
type Counts struct {
	In       int `json:"in"`
	Done     int `json:"done"`
	Failed   int `json:"failed"`
	Excluded int `json:"excluded"`
}

// maxProblems bounds the problems that are held in memory. All of them are in
// the recordings table.
const maxProblems = 1000

// Problem is a recording that gave no segmentation, or no score, and why.
type Problem struct {
	Recording string `json:"recording"`
	Outcome   string `json:"outcome"`
	Reason    string `json:"reason"`
}

// Run segments every recording of the configured data sets, extracts features
// and scores the segmentation, reading each recording once.
func Run(ctx context.Context, c Config, p Progress) (*Report, error) {
	return execute(ctx, c, stage{name: "run", segments: true, extracts: true, scores: true}, p)
}

// Segment is the first stage of Run alone: it writes the tables recordings and
// states.
func Segment(ctx context.Context, c Config, p Progress) (*Report, error) {
	return execute(ctx, c, stage{name: "segment", segments: true}, p)
}

// Extract is the second stage of Run alone: it measures the states of the
// given source ("predicted" or "reference") in the output folder states, and
// writes the tables recordings and cycles.
func Extract(ctx context.Context, c Config, states, source string, p Progress) (*Report, error) {
	return execute(ctx, c, stage{name: "extract", extracts: true, statesDir: states, source: source}, p)
}

// stage says which parts of the work an execution does.
type stage struct {
	name                       string
	segments, extracts, scores bool
	cuts                       bool // windows
	fits, crossValidates       bool

	statesDir, source string      // of extract and windows: the folder of tables and whose states
	adopts            Predictions // of score: what another program made
}

// execute makes the parts that are missing and, where they are all there then,
// what stands on the whole.
func execute(ctx context.Context, c Config, s stage, p Progress) (*Report, error) {
	started := time.Now()
	p = orSilent(p)
	if c.Out == "" {
		return nil, errors.New("no output folder: name one with --out")
	}
	j, err := newJob(c, s)
	if err != nil {
		return nil, err
	}
	defer j.close()
	return j.execute(ctx, started, p)
}

// execute does the work of the job in its output folder, which it locks.
func (j *job) execute(ctx context.Context, started time.Time, p Progress) (report *Report, err error) {
	c := &j.config
	if err := makeOut(c.Out); err != nil {
		return nil, err
	}
	l, stale, err := lockFolder(c.Out, c.Shard)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, l.release()) }()
	if stale != "" {
		j.warnings = append(j.warnings, stale)
	}
	if err := j.plan.settle(c.Out, c.Resume); err != nil {
		return nil, err
	}
	if j.crossValidates {
		if err := j.fitFolds(ctx, p); err != nil {
			return nil, err
		}
	}
	t, err := j.makeParts(ctx, p)
	if err != nil {
		return nil, err
	}
	if c.Shard.Of > 0 {
		return j.reportShard(started)
	}
	if err := j.removeTemporary(); err != nil {
		return nil, err
	}
	j.forget()
	return j.finish(ctx, started, t, p)
}

// makeOut makes the output folder.
func makeOut(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("output folder %s: %w; choose another with --out", dir, err)
	}
	return nil
}

// makeParts processes the recordings of all parts that are missing. Where these
// are all parts, it adds their recordings up, else the tally is nil.
func (j *job) makeParts(ctx context.Context, p Progress) (t *tally, err error) {
	missing, err := j.missingParts()
	if err != nil || len(missing) == 0 {
		return nil, err
	}
	if len(missing) == j.plan.parts() {
		if t, err = j.newTally(); err != nil {
			return nil, err
		}
	}
	total := 0
	for _, part := range missing {
		first, end := j.bounds(part)
		total += end - first
	}
	p.Start(j.stage.name, total)
	defer p.Done()

	w := partWriter{job: j, tally: t, parts: missing, incomplete: len(missing)}
	// To describe a thousand columns takes a while, in which workers can begin.
	begin := sync.OnceValue(w.begin)
	go begin()
	defer w.abort()
	var itemErr error
	err = inOrder(ctx, j.config.Workers, j.entriesOf(missing, &itemErr),
		func() *worker { return &worker{job: j, scorer: t.newScorer()} },
		func(ctx context.Context, w *worker, e *entry) output {
			o := w.process(ctx, e)
			t.score(w.scorer, &o)
			return o
		},
		func(o output) error {
			if err := begin(); err != nil {
				return err
			}
			if o.stop != nil {
				return o.stop
			}
			p.Step(1)
			return w.write(o)
		})
	if begun := begin(); err == nil { // without recordings nothing has begun yet
		err = begun
	}
	if err = errors.Join(itemErr, err, w.settle()); err != nil {
		if errors.Is(err, context.Canceled) {
			return nil, fmt.Errorf("interrupted with %d of %d parts complete in %s; continue with --resume: %w",
				j.plan.parts()-w.incomplete, j.plan.parts(), j.config.Out, err)
		}
		return nil, err
	}
	return t, w.end()
}

// entriesOf yields the recordings of the given parts in order.
func (j *job) entriesOf(parts []int, failed *error) iter.Seq[*entry] {
	return func(yield func(*entry) bool) {
		for _, part := range parts {
			first, end := j.bounds(part)
			for i := first; i < end; i++ {
				e := &j.entries[i]
				if j.states != nil {
					g, err := j.states.of(e.id)
					if err != nil {
						*failed = err
						return
					}
					with := *e
					with.given = g
					e = &with
				}
				if !yield(e) {
					return
				}
			}
		}
	}
}

// bounds returns the recordings [first, end) of a part.
func (j *job) bounds(part int) (first, end int) {
	size := j.config.PartSize
	return min(part*size, len(j.entries)), min((part+1)*size, len(j.entries))
}

// missingParts returns the parts of this shard that have to be made, after
// checking that the inputs of the others are what they were.
func (j *job) missingParts() ([]int, error) {
	done := table.PartsOf[table.Recording](j.config.Out)
	var missing []int
	for part := range j.plan.parts() {
		if !j.config.Shard.has(part) {
			continue
		}
		there, err := done.Exists(part)
		if err != nil {
			return nil, fmt.Errorf("output folder %s: %w", j.config.Out, err)
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
		e, ok := j.entry(row.Recording)
		if !ok {
			return fmt.Errorf("%s holds recording %s, which the data set no longer has; give another folder with --out", path, row.Recording)
		}
		content, err := e.set.ReadFile(e.recording.Audio)
		if err != nil {
			return fmt.Errorf("recording %s, already in %s: %w; or give another folder with --out", row.Recording, path, err)
		}
		if digestOf(content) != row.AudioDigest {
			return fmt.Errorf("recording %s: %s has changed since %s was made from it; restore the file, or give another folder with --out",
				row.Recording, e.recording.Audio, path)
		}
	}
	return nil
}

// written lists what stands in the output folder.
func (j *job) written(names ...string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = filepath.Join(j.config.Out, n)
	}
	return out
}

// reportShard counts what one shard made; scores need all shards.
func (j *job) reportShard(started time.Time) (*Report, error) {
	r := &Report{Warnings: append(j.warnings, fmt.Sprintf("shard %v alone: scores, summary and manifest are written by merge", j.config.Shard))}
	done := table.PartsOf[table.Recording](j.config.Out)
	for part := range j.plan.parts() {
		if !j.config.Shard.has(part) {
			continue
		}
		for row, err := range table.Read[table.Recording](done.Path(part)) {
			if err != nil {
				return nil, err
			}
			if err := r.add(&row, io.Discard); err != nil {
				return nil, err
			}
		}
	}
	r.Elapsed = time.Since(started)
	return r, nil
}
