package pipeline

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"path"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"time"

	"phonocycle/features"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
	"phonocycle/pipeline/table"
)

// output is what one recording gives: its rows, ready to be written.
type output struct {
	recording table.Recording
	labels    []string
	features  []float64
	states    []table.State
	cycles    []cycleRow
	excerpts  excerpts
	scored    scored
	stop      error // why the run cannot go on
}

type cycleRow struct {
	row    table.Cycle
	values []float64
}

// engine processes one recording after another. It holds the plans and buffers
// of one worker.
type engine struct {
	job       *job
	decoder   audio.Decoder
	resampler *audio.Resampler
	segmenter segment.Segmenter
	folds     []segment.Segmenter // in a cross-validation, one a fold, made when first needed
	extractor *features.Extractor
	content   []byte
	x         []float64
	wave      *signal.Waveform // of x

	reading atomic.Bool // whether it is at files, for the one who waits
	broken  bool
}

// errExcluded marks a reason for which a rule of the run leaves a recording out.
var errExcluded = errors.New("excluded by the rules of the run")

// newReader returns an engine that can load recordings and nothing else.
func newReader(j *job) *engine {
	e := &engine{job: j, resampler: audio.NewResampler(AnalysisRate), wave: signal.NewWaveform(nil)}
	e.decoder.Channel = j.config.Channel
	return e
}

func newEngine(j *job) (*engine, error) {
	e := newReader(j)
	e.extractor = features.NewExtractor()
	if j.foldModels != nil {
		e.folds = make([]segment.Segmenter, len(j.foldModels))
	} else if j.segments {
		s, err := j.newSegmenter(j.model)
		if err != nil {
			return nil, err
		}
		e.segmenter = s
	}
	return e, nil
}

// segmenterFor returns the segmenter of a recording: in a cross-validation that
// of its fold.
func (e *engine) segmenterFor(entry *entry) (segment.Segmenter, error) {
	if e.folds == nil {
		return e.segmenter, nil
	}
	s := &e.folds[entry.fold]
	if *s == nil {
		made, err := e.job.newSegmenter(e.job.foldModels[entry.fold])
		if err != nil {
			return nil, err
		}
		*s = made
	}
	return *s, nil
}

// process turns one recording into rows. It never fails: what goes wrong
// becomes the outcome and the reason of the recording's row. With a verdict,
// the recording is read and described and fails for that reason, so that the
// sounds of its reference count as missed.
func (e *engine) process(ctx context.Context, entry *entry, verdict error) output {
	out := e.job.describe(entry)
	if entry.recording.Unusable != "" {
		fail(&out, entry.unusable())
		return out
	}
	clip, reference, err := e.load(entry, &out)
	if err == nil {
		err = verdict
	}
	if err == nil {
		err = e.guard("method "+e.job.config.Method, func() error {
			intervals, err := e.intervals(ctx, entry, clip, &out)
			if err != nil {
				return err
			}
			return e.measure(entry, clip, intervals, &out)
		})
	}
	if err != nil {
		fail(&out, err)
	}
	if reference.Kind == pcg.PointReference {
		out.states = append(out.states, table.PointStates(entry.id, table.Reference, reference.Points)...)
	} else {
		out.states = append(out.states, table.IntervalStates(entry.id, table.Reference, reference.Intervals)...)
	}
	return out
}

// unusable says why no run can use the recording.
func (e *entry) unusable() error { return fmt.Errorf("%w: %s", errExcluded, e.recording.Unusable) }

// load reads audio and reference of a recording. The reference is given even
// where the audio is not.
func (e *engine) load(entry *entry, out *output) (clip *audio.Clip, reference pcg.Reference, err error) {
	e.reading.Store(true)
	defer e.reading.Store(false)
	err = e.guard("reading", func() (err error) {
		clip, err = e.read(entry, out)
		reference = e.reference(entry, out)
		return err
	})
	return clip, reference, err
}

// guard calls f and turns a panic into an error. The buffers of an engine in
// which something panicked may be in any state, so it is used no more.
func (e *engine) guard(what string, f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			e.broken = true
			err = fmt.Errorf("%s panicked: %v at %s: a fault of the program; report it with the recording", what, r, panicSite(debug.Stack()))
		}
	}()
	return f()
}

// fail sets the outcome of a recording that gave no segmentation.
func fail(out *output, err error) {
	out.recording.Outcome = table.Failed
	if errors.Is(err, errExcluded) {
		out.recording.Outcome = table.Excluded
	}
	out.recording.Reason = strings.ToValidUTF8(err.Error(), "\uFFFD")
	out.states, out.cycles, out.features, out.excerpts = nil, nil, nil, excerpts{}
}

// read decodes the audio of a recording and resamples it into e.x.
func (e *engine) read(entry *entry, out *output) (*audio.Clip, error) {
	content, err := entry.set.ReadFileInto(e.content, entry.recording.Audio)
	if err != nil {
		return nil, err
	}
	e.content = content
	out.recording.AudioDigest = digestOf(content)
	clip, err := e.decoder.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dataset.Printable(entry.recording.Audio), err)
	}
	row := &out.recording
	row.Duration = ptr(clip.Duration())
	row.Rate, row.Channels, row.Bits = ptr(int32(clip.Rate)), ptr(int32(clip.Channels)), ptr(int32(clip.BitsPerSample))
	row.Encoding = clip.Encoding
	row.Repairs = strings.Join(clip.Repairs, "; ")
	if d := clip.Duration(); d < time.Duration(e.job.config.MinDuration) {
		return nil, fmt.Errorf("%w: lasts %.3f s, less than the %v of min-duration", errExcluded, d.Seconds(), e.job.config.MinDuration)
	}
	e.x = e.resampler.Resample(e.x[:0], clip.Samples, clip.Rate)
	e.wave.Set(e.x)
	return clip, nil
}

// reference reads the reference annotation of a recording. One that cannot be
// used leaves the recording without a score and says why.
func (e *engine) reference(entry *entry, out *output) pcg.Reference {
	row := &out.recording
	if entry.recording.Reference == "" {
		row.ReferenceNote = "no reference annotation"
		return pcg.Reference{}
	}
	var rate int
	var length time.Duration
	if row.Rate != nil { // else the audio could not be read
		rate, length = int(*row.Rate), *row.Duration
	}
	ref, err := entry.set.Reference(entry.recording, rate, length)
	if err != nil {
		row.ReferenceNote = err.Error()
		return pcg.Reference{}
	}
	if ref.Empty() {
		row.ReferenceNote = "the reference annotation marks no state"
	}
	row.ReferenceKind = string(ref.Kind)
	var annotated time.Duration
	for _, iv := range ref.Intervals {
		annotated += iv.Duration()
	}
	if ref.Kind != pcg.PointReference {
		row.Annotated = ptr(annotated)
	}
	if len(ref.Repairs) > 0 {
		repairs := ref.Repairs
		if row.Repairs != "" {
			repairs = append([]string{row.Repairs}, repairs...)
		}
		row.Repairs = strings.Join(repairs, "; ")
	}
	return ref
}

// intervals segments the recording, or takes over the segmentation that the
// job was given.
func (e *engine) intervals(ctx context.Context, entry *entry, clip *audio.Clip, out *output) ([]pcg.Interval, error) {
	if e.job.adopted != nil {
		return e.adopt(entry, out)
	}
	if !e.job.segments {
		return e.given(entry, out)
	}
	segmenter, err := e.segmenterFor(entry)
	if err != nil {
		return nil, err
	}
	seg, err := segmenter.Segment(ctx, e.x, AnalysisRate)
	if errors.Is(err, context.DeadlineExceeded) {
		return nil, e.job.tooLong()
	}
	if err != nil {
		return nil, fmt.Errorf("method %s: %w", e.job.config.Method, err)
	}
	if err := seg.Check(pcg.FromSamples(int64(len(e.x)), AnalysisRate)); err != nil {
		return nil, fmt.Errorf("method %s: %w: a fault of the method; report it with the recording", e.job.config.Method, err)
	}
	row := &out.recording
	row.Confidence, row.ExchangeProbability = seg.Confidence, seg.ExchangeProbability
	if seg.CycleLength > 0 {
		row.CycleLength = ptr(seg.CycleLength)
		row.HeartRate = time.Minute.Seconds() / seg.CycleLength.Seconds()
	}
	intervals := cutAt(seg.Intervals, clip.Duration())
	out.states = table.IntervalStates(entry.id, table.Predicted, intervals)
	return intervals, nil
}

// given returns the segmentation that another stage or program made.
func (e *engine) given(entry *entry, out *output) ([]pcg.Interval, error) {
	g := entry.given
	if g == nil {
		return nil, fmt.Errorf("the states table has no row with source %s for this recording", e.job.segmentationSource)
	}
	row := &out.recording
	row.Method, row.ModelDigest, row.MethodKnowsPerson = g.method, g.modelDigest, g.knowsPerson
	row.Confidence, row.ExchangeProbability = g.confidence, g.exchange
	row.CycleLength, row.HeartRate = g.cycleLength, g.heartRate
	return g.intervals, nil
}

// cutAt ends intervals with the recording: the analysis rate rounds its length
// up to a whole sample.
func cutAt(intervals []pcg.Interval, end time.Duration) []pcg.Interval {
	for n := len(intervals); n > 0; n-- {
		if last := &intervals[n-1]; last.Start < end {
			last.End = min(last.End, end)
			return intervals[:n]
		}
	}
	return nil
}

// measure cuts the windows of the recording, or extracts its features and those
// of its cycles.
func (e *engine) measure(entry *entry, clip *audio.Clip, intervals []pcg.Interval, out *output) error {
	if e.job.cuts {
		out.excerpts = newExcerpts(e.wave, intervals, e.job.config.Windows, &out.recording)
	}
	if !e.job.extracts {
		out.recording.Outcome = table.Done
		return nil
	}
	f, err := e.extractor.Extract(features.Input{Raw: clip.Samples, RawRate: clip.Rate, Wave: e.wave, Intervals: intervals})
	if err != nil {
		return fmt.Errorf("features: %w", err)
	}
	out.features = f.Recording
	row := &out.recording
	out.cycles = make([]cycleRow, len(f.Cycles))
	for i, c := range f.Cycles {
		out.cycles[i] = cycleRow{values: c.Values, row: table.Cycle{
			Recording: row.Recording, DataSet: row.Source, Person: row.Person, Site: row.Site, Fold: row.Fold,
			Source: row.SegmentationSource, Method: row.Method, ModelDigest: row.ModelDigest,
			MethodKnowsPerson: row.MethodKnowsPerson, Index: int32(i),
			Start: c.At[0], S1End: c.At[1], S2Start: c.At[2], S2End: c.At[3], End: c.At[4],
		}}
	}
	out.recording.Outcome = table.Done
	return nil
}

// describe returns the row of a recording as far as it is known before its
// audio is read.
func (j *job) describe(entry *entry) output {
	rec := entry.recording
	out := output{labels: make([]string, len(j.labels))}
	for i, c := range j.labels {
		out.labels[i] = rec.Label(c.Name)
	}
	out.recording = table.Recording{
		Recording: entry.id, Source: rec.Source, Person: entry.person, Site: rec.Site, Take: int32(rec.Take), Audio: dataset.Printable(rec.Audio),
		Fold: entry.foldOf(), MethodKnowsPerson: j.knowsPerson(entry), SegmentationSource: j.segmentationSource,
		Confidence: math.NaN(), ExchangeProbability: math.NaN(), HeartRate: math.NaN(),
	}
	if j.segments {
		out.recording.Method, out.recording.ModelDigest = j.config.Method, j.plan.ModelDigest
		if j.foldDigests != nil {
			out.recording.ModelDigest = j.foldDigests[entry.fold]
		}
	}
	return out
}

// panicSite returns the first function of this project on a stack below the
// call that panicked, with file and line. The folder is left out: rows must not
// depend on where the program was built.
func panicSite(stack []byte) string {
	_, below, _ := strings.Cut(string(stack), "panic(")
	function := ""
	for line := range strings.Lines(below) {
		line = strings.TrimSpace(line)
		if function != "" {
			place, _, _ := strings.Cut(line, " ")
			return fmt.Sprintf("%s (%s)", function, path.Base(place))
		}
		if strings.HasPrefix(line, "phonocycle/") {
			function = line[:max(strings.LastIndexByte(line, '('), 0)]
		}
	}
	return "an unknown place"
}

func digestOf(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

func ptr[T any](v T) *T { return &v }
