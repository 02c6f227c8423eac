package pages

import (
	"context"
	"fmt"
	"runtime"
	"slices"

	"phonocycle/eval/report"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/corpus"
	"phonocycle/pipeline/table"
	"phonocycle/pipeline/workers"
)

// Sounds says of which recordings a report has the sound.
type Sounds string

// The choices of sounds.
const (
	AllSounds    Sounds = "all"
	ChosenSounds Sounds = "chosen"
	NoSounds     Sounds = "none"
)

// Check makes sure that s is one of the choices.
func (s Sounds) Check() error {
	if s != AllSounds && s != ChosenSounds && s != NoSounds {
		return fmt.Errorf("sounds of %q: want %s, %s or %s", string(s), AllSounds, ChosenSounds, NoSounds)
	}
	return nil
}

// outlineRate is the sampling rate of the sound of a recording that is not chosen, in
// hertz: half of soundRate, so that the page of some hundred recordings stays small.
const outlineRate = soundRate / 2

// soundReader reads the sounds of the recordings of a page. It belongs to one worker.
type soundReader struct {
	run       *scoredRun
	data      *corpus.Corpus
	digests   map[string]string // of the audio files that the run read
	sounds    Sounds
	loader    *corpus.Loader
	waveforms *waveforms
	resampler *audio.Resampler // to outlineRate
	broken    error            // why it cannot read
}

// addSounds adds to all recordings what a page draws and plays of their sounds, after
// making sure that the files are those that the run read. The recordings at the
// positions in chosen are drawn in full.
func addSounds(ctx context.Context, recordings []report.Recording, chosen map[int]bool, run *scoredRun, o *ReportOptions) error {
	data, err := corpus.Open(o.Inputs, corpus.Options{Reference: run.Plan.Reference})
	if err != nil {
		return err
	}
	defer data.Close()
	digests := make(map[string]string)
	for row, err := range table.ReadParts[table.Recording](table.PartsOf[table.Recording](run.Dir)) {
		if err != nil {
			return err
		}
		digests[row.Recording] = row.AudioDigest
	}
	newReader := func() *soundReader {
		loader := corpus.NewLoader(&config.Config{Channel: run.Plan.Config.Channel})
		waveforms, err := newWaveforms()
		return &soundReader{run, data, digests, o.Sounds, loader, waveforms, audio.NewResampler(outlineRate), err}
	}
	o.Progress.Start("sounds", len(recordings))
	defer o.Progress.Done()
	return workers.InOrder(ctx, runtime.GOMAXPROCS(0), slices.Values(positions(len(recordings))), newReader,
		func(_ context.Context, s *soundReader, i int) error { return s.add(&recordings[i], chosen[i]) },
		func(err error) error {
			o.Progress.Step(1)
			return err
		})
}

// positions returns 0 … n−1.
func positions(n int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = i
	}
	return list
}

// add adds the sound of one recording. A recording that has no segmentation may have
// no sound either.
func (s *soundReader) add(r *report.Recording, chosen bool) error {
	if s.broken != nil {
		return s.broken
	}
	e, ok := s.data.Find(r.Recording)
	if !ok {
		return fmt.Errorf("recording %s of %s is not in the data: name the folder and the layout of the run with --data and --layout", r.Recording, s.run.Dir)
	}
	row := e.Row()
	loaded, err := s.loader.Load(e, &row)
	digest := s.digests[r.Recording]
	switch {
	case digest != "" && row.AudioDigest != "" && digest != row.AudioDigest:
		return fmt.Errorf("recording %s: %s is not the file that %s was made from; name the folder with the data of the run with --data", r.Recording, e.Recording.Audio, s.run.Dir)
	case err != nil && (r.Score == nil || r.Score.Failed):
		return nil
	case err != nil:
		return fmt.Errorf("recording %s: %w", r.Recording, err)
	}
	r.To = min(r.To, loaded.Clip.Duration())
	if !chosen {
		return s.addOutline(r, &loaded)
	}
	sound := s.waveforms.sound(&loaded)
	r.Sound, r.Silent = sound.Between(r.From, r.To), s.sounds == NoSounds
	if c := s.run.Plan.Condition; c != nil {
		r.Facts = append(r.Facts, report.Fact{Name: "sound", Value: "as in the file; the run changed it by " + c.Condition})
	}
	drawn, text := ecgOf(e)
	r.ECG = drawn.Between(r.From, r.To)
	if len(drawn.Wave) == 0 && text != "" {
		r.Facts = append(r.Facts, report.Fact{Name: "ECG", Value: text})
	}
	return nil
}

// addOutline adds the envelope of a recording that is not chosen and, if it is asked
// for, its sound.
func (s *soundReader) addOutline(r *report.Recording, loaded *corpus.Loaded) error {
	sound := s.waveforms.envelopeOf(loaded)
	if s.sounds == AllSounds {
		sound.Wave, sound.WaveRate = s.resampler.Resample(nil, loaded.Clip.Samples, loaded.Clip.Rate), outlineRate
	}
	r.Sound = sound.Between(r.From, r.To)
	return r.Reduce()
}
