package pipeline

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sort"
	"sync/atomic"
	"time"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"phonocycle/eval"
	"phonocycle/features"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

// job is one execution of a stage: its plan, and what the workers share, which
// none of them changes.
type job struct {
	stage
	config   Config
	plan     Plan
	pace     pace
	sets     []*dataset.Set
	entries  []entry // sorted by id
	labels   []table.Column
	measured []table.Column // of the table cycles: labels, then features
	summary  []table.Column // of the table recordings: labels, then features
	states   *statesCursor  // of extract
	adopted  adopted        // of score; nil for none
	warnings []string

	segmentationSource string // predicted or reference
	method             segment.Method
	options            any            // of the method, decoded
	fitOptions         any            // of its fit
	model              []byte         // nil in a cross-validation, and for a method without
	knows              *segment.Model // the model, for whom it knows; nil without

	foldModels  [][]byte // in a cross-validation, the model for the recordings of each fold
	foldDigests []string
	abandoned   atomic.Int32 // engines left behind
}

// entry is a recording and the data set that it belongs to. In a run over
// several data sets, id and person have the name of the set before them.
type entry struct {
	set        *dataset.Set
	recording  *pcg.Recording // of set
	id, person string
	fold       int32        // noFold for none
	given      *givenStates // of extract
}

func newJob(c Config, s stage) (*job, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	j := &job{stage: s, config: c, segmentationSource: table.Predicted, pace: whileListing()}
	if s.source != "" {
		j.segmentationSource = s.source
	}
	j.plan = Plan{Tool: tool, Stage: s.name, Config: c}
	if err := j.prepare(); err != nil {
		j.close()
		return nil, err
	}
	j.pace.withList(len(j.entries))
	return j, nil
}

// prepare chooses the method, opens what is read and seals the plan.
func (j *job) prepare() error {
	if !j.segments && !j.fits {
		j.plan.Config.Method, j.plan.Config.Model = "", ""
	} else if err := j.chooseMethod(); err != nil {
		return err
	}
	if err := j.openSources(); err != nil {
		return err
	}
	if err := j.assignFolds(); err != nil {
		return err
	}
	if err := j.checkKnown(); err != nil {
		return err
	}
	j.plan.KnownPeople = j.countKnown()
	if j.statesDir != "" {
		cursor, err := openStates(j.statesDir, j.source)
		if err != nil {
			return err
		}
		j.states, j.plan.Given, j.plan.KnownPeople = cursor, cursor.digest, cursor.known
	}
	if err := j.openPredictions(); err != nil {
		return err
	}
	j.describeColumns()
	return j.plan.seal()
}

// forget frees the list of recordings, which only the making of parts needs.
func (j *job) forget() {
	for _, s := range j.sets {
		s.Close()
	}
	j.sets, j.entries = nil, nil
}

// close releases the folders and tables that the job reads.
func (j *job) close() {
	j.forget()
	j.pace.end()
	if j.states != nil {
		j.states.close()
	}
	if j.adopted != nil {
		j.adopted.close()
	}
}

// writesStates reports whether the table states is written.
func (j *job) writesStates() bool { return j.segments || j.adopted != nil }

// chooseMethod looks the method up and decodes its options, and its model or
// the options of its fit.
func (j *job) chooseMethod() (err error) {
	if j.method, err = segment.Lookup(j.config.Method); err != nil {
		return err
	}
	j.options = j.method.Defaults()
	if j.plan.Options, err = decodeOptions("options of method "+j.method.Name, j.config.Options, j.options); err != nil {
		return err
	}
	if j.fits || j.crossValidates {
		j.plan.Config.Model = ""
		return j.chooseFit()
	}
	if j.model, err = loadModel(j.method, j.config.Model); err != nil {
		return err
	}
	if j.model == nil {
		j.plan.Config.Model = ""
	} else {
		j.plan.ModelDigest = digestOf(j.model)
		if j.knows, err = segment.ParseModel(j.model, j.method.Name); err != nil {
			return fmt.Errorf("model %s: %w", j.config.Model, err)
		}
	}
	_, err = j.newSegmenter(j.model)
	return err
}

// chooseFit decodes the options of the method's fit.
func (j *job) chooseFit() (err error) {
	if j.method.Fit == nil {
		if j.fits {
			return fmt.Errorf("method %s has no parameters to fit: choose another with --method", j.method.Name)
		}
		if j.config.Fit != nil {
			return fmt.Errorf("method %s has no parameters to fit, and so no options of a fit: leave them out", j.method.Name)
		}
		return nil
	}
	j.fitOptions = j.method.FitDefaults()
	j.plan.FitOptions, err = decodeOptions("fit options of method "+j.method.Name, j.config.Fit, j.fitOptions)
	return err
}

// decodeOptions sets the options that node holds, if any, over the defaults in
// options, strictly, and returns them all as JSON.
func decodeOptions(what string, node ast.Node, options any) (json.RawMessage, error) {
	if node != nil {
		if err := yaml.NodeToValue(node, options, yaml.Strict()); err != nil {
			return nil, fmt.Errorf("%s: %s", what, yaml.FormatError(err, false, true))
		}
	}
	content, err := json.Marshal(options)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return content, nil
}

// newSegmenter makes a segmenter with the given model, nil for a method that
// can do without.
func (j *job) newSegmenter(model []byte) (segment.Segmenter, error) {
	s, err := j.method.New(j.options, model)
	if err != nil {
		return nil, fmt.Errorf("method %s: %w", j.method.Name, err)
	}
	return s, nil
}

// openSources lists the recordings of all data sets. With several, the name of
// the data set is put before each id, so that ids stay unique.
func (j *job) openSources() error {
	if len(j.config.Sources) == 0 {
		return errors.New("no data: name a folder with --data and its layout with --layout")
	}
	seen := map[string]bool{}
	for _, src := range j.config.Sources {
		layout, err := dataset.LoadLayout(src.Layout)
		if err != nil {
			return err
		}
		if seen[layout.Name] {
			return fmt.Errorf("layout %s is named twice: give the second folder a layout file with a name of its own", layout.Name)
		}
		seen[layout.Name] = true
		set, err := dataset.Open(src.Data, layout)
		if err != nil {
			return err
		}
		j.sets = append(j.sets, set)
		prefix := sourcePrefix(len(j.config.Sources), layout.Name)
		j.entries = slices.Grow(j.entries, len(set.Recordings))
		for i := range set.Recordings {
			r := &set.Recordings[i]
			j.entries = append(j.entries, entry{set: set, recording: r, id: prefix + r.ID, person: prefix + r.Person})
		}
		j.plan.Sources = append(j.plan.Sources, PlanSource{
			Name: layout.Name, Title: layout.Title, Version: layout.Version, Citation: layout.Citation,
			Recordings: len(set.Recordings), LayoutDigest: layout.Digest(), ListDigest: listDigest(set.Recordings),
		})
		j.warnings = append(j.warnings, set.Warnings...)
	}
	sort.SliceStable(j.entries, func(a, b int) bool { return j.entries[a].id < j.entries[b].id })
	return nil
}

// sourcePrefix is what stands before the ids of a data set where there are
// several.
func sourcePrefix(sources int, name string) string {
	if sources < 2 {
		return ""
	}
	return name + "/"
}

// entry finds a recording by its id.
func (j *job) entry(id string) (*entry, bool) {
	i := sort.Search(len(j.entries), func(i int) bool { return j.entries[i].id >= id })
	if i == len(j.entries) || j.entries[i].id != id {
		return nil, false
	}
	return &j.entries[i], true
}

// listDigest identifies what a data set says of its recordings.
func listDigest(recordings []pcg.Recording) string {
	hash := sha256.New()
	b := bufio.NewWriter(hash)
	for i := range recordings {
		r := &recordings[i]
		fmt.Fprintf(b, "%q %q %q %d %q %q", r.ID, r.Person, r.Site, r.Take, r.Audio, r.Reference)
		for l := range r.Labels.All() {
			fmt.Fprintf(b, " %q=%q", l.Name, l.Value)
		}
		b.WriteByte('\n')
	}
	b.Flush() // a hash takes all that is written
	return hex.EncodeToString(hash.Sum(nil))
}

// describeColumns makes the dynamic columns: the labels of all data sets in the
// order of their first appearance, and the catalogue of features.
func (j *job) describeColumns() {
	seen := map[string]bool{}
	for i := range j.entries {
		for l := range j.entries[i].recording.Labels.All() {
			if !seen[l.Name] {
				seen[l.Name] = true
				j.labels = append(j.labels, table.Column{Name: l.Name, Kind: table.Category, Doc: j.entries[i].set.Layout.LabelDoc(l.Name)})
				j.plan.Labels = append(j.plan.Labels, l.Name)
			}
		}
	}
	j.summary = append(j.summary, j.labels...)
	if !j.extracts {
		return
	}
	j.measured = slices.Concat(j.labels, featureColumns(features.CycleFeatures()))
	j.summary = append(j.summary, featureColumns(features.RecordingFeatures())...)
}

// featureColumns turns rows of the catalogue into columns.
func featureColumns(list []features.Feature) []table.Column {
	columns := make([]table.Column, len(list))
	for i, f := range list {
		columns[i] = table.Column{
			Name: f.Name, Unit: f.Unit, Doc: f.Definition, Source: f.Source, Range: f.Range, Null: f.Null, Kind: table.Float,
		}
	}
	return columns
}

// worker is an engine that is given up when a recording takes too long.
type worker struct {
	job    *job
	engine *engine
	scorer *eval.Scorer // nil where the recordings are not scored as they come
}

// grace is how long a method has to end after its time is over.
const grace = 2 * time.Second

// maxAbandoned is how many engines a run leaves behind before it gives up: each
// keeps its memory, and what it is at keeps a processor.
const maxAbandoned = 64

// process processes one recording within the time limit. What does not end in
// time, nor when it is told to, is left behind with its engine.
func (w *worker) process(ctx context.Context, e *entry) output {
	if err := w.ready(); err != nil {
		out := w.job.describe(e)
		fail(&out, err)
		return out
	}
	limit := time.Duration(w.job.config.TimeLimit)
	if limit == 0 {
		return w.engine.process(ctx, e, nil)
	}
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	if out, ok := w.within(ctx, e); ok {
		return out
	}
	if w.engine.reading.Load() {
		out := w.job.describe(e)
		fail(&out, fmt.Errorf("%s: not read within the time limit of %v: see whether its disk answers", dataset.Printable(e.recording.Audio), limit))
		return w.leave(out)
	}
	w.engine = nil
	if err := w.ready(); err != nil {
		out := w.job.describe(e)
		fail(&out, err)
		return w.leave(out)
	}
	return w.leave(w.engine.process(ctx, e, w.job.tooLong()))
}

// ready makes sure that the worker has an engine to work with.
func (w *worker) ready() (err error) {
	if w.engine == nil || w.engine.broken {
		w.engine, err = newEngine(w.job)
	}
	return err
}

// within has the engine process a recording until ctx ends and the grace after
// it is over; ok is false if there is no result then.
func (w *worker) within(ctx context.Context, e *entry) (out output, ok bool) {
	done := make(chan output, 1)
	engine := w.engine
	go func() { done <- engine.process(ctx, e, nil) }()
	select {
	case out = <-done:
		return out, true
	case <-ctx.Done():
	}
	timer := time.NewTimer(grace)
	defer timer.Stop()
	select {
	case out = <-done:
		return out, true
	case <-timer.C:
		return out, false
	}
}

// leave gives the engine up and, where that has happened too often, ends the
// run.
func (w *worker) leave(out output) output {
	w.engine = nil
	if n := w.job.abandoned.Add(1); n >= maxAbandoned {
		out.stop = fmt.Errorf("%d recordings did not end within the time limit, nor when they were told to, the last %s: %s; then continue with --resume",
			n, out.recording.Recording, "correct the method or the disk")
	}
	return out
}

// tooLong says that a method used up its time.
func (j *job) tooLong() error {
	return fmt.Errorf("method %s gave no result within the time limit of %v: raise --time-limit, or cut the recording",
		j.config.Method, j.config.TimeLimit)
}
