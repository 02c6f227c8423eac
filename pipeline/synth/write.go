package synth

import (
	"bufio"
	"bytes"
	"context"
	_ "embed" // the layout
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"text/template"
	"time"

	"golang.org/x/sync/errgroup"

	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/table/atomicfile"
)

// audioDir is the folder below a data set's root that holds the recordings.
const audioDir = "recordings"

//go:embed layout.yaml.tmpl
var layoutText string

// layout describes a data set that Write made, in the form that package dataset
// reads.
var layout = template.Must(template.New("layout").Parse(layoutText))

// WriteDemo writes the data set of the demonstration to dir, as Write does.
func WriteDemo(ctx context.Context, dir string, seed uint64) error {
	return Demo().Write(ctx, dir, seed)
}

// Write makes every recording of the scenario and writes the data set to dir,
// which is created:
//
//	NAME.yaml                 layout that describes the rest, NAME being the scenario's
//	people.csv                one row for each id of a person
//	recordings.csv            one row for each recording
//	recordings/ID_SITE.wav    16-bit PCM; a step is 2^−15 of full scale
//	recordings/ID_SITE.csv    the truth: start_s, end_s, state
//
// Equal scenarios with equal seeds give equal bytes. A recording depends on the
// seed and its own entry only. Files of an earlier run are overwritten; a file
// that does not belong to this scenario is an error, since it would become part
// of the data set. The layout is written last: without it a folder is not whole.
func (s *Scenario) Write(ctx context.Context, dir string, seed uint64) error {
	if err := s.Check(); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(dir, audioDir), 0o777); err != nil {
		return fmt.Errorf("writing data set %s: %w", s.Name, err)
	}
	if err := s.checkOtherFiles(dir); err != nil {
		return err
	}
	layoutFile := filepath.Join(dir, s.Name+".yaml")
	if err := atomicfile.Remove(layoutFile); err != nil {
		return fmt.Errorf("writing data set %s: %w", s.Name, err)
	}
	if err := writeFile(filepath.Join(dir, "people.csv"), s.writePeople); err != nil {
		return err
	}
	if err := writeFile(filepath.Join(dir, "recordings.csv"), s.writeRecordings); err != nil {
		return err
	}
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(runtime.GOMAXPROCS(0))
	for i := range s.People {
		for j := range s.People[i].Recordings {
			work.Go(func() error {
				if err := ctx.Err(); err != nil {
					return err
				}
				return s.writeTake(dir, i, j, seed)
			})
		}
	}
	if err := work.Wait(); err != nil {
		return err
	}
	return writeFile(layoutFile, func(w io.Writer) error { return layout.Execute(w, s) })
}

// checkOtherFiles reports a file in the folder that does not belong to the
// scenario.
func (s *Scenario) checkOtherFiles(dir string) error {
	own := map[string]bool{audioDir: true, s.Name + ".yaml": true, "people.csv": true, "recordings.csv": true}
	for i := range s.People {
		p := &s.People[i]
		for j := range p.Recordings {
			id := filepath.Join(audioDir, p.recordingID(&p.Recordings[j]))
			own[id+".wav"], own[id+".csv"] = true, true
		}
	}
	for _, folder := range []string{"", audioDir} {
		entries, err := os.ReadDir(filepath.Join(dir, folder))
		if err != nil {
			return fmt.Errorf("writing data set %s: %w", s.Name, err)
		}
		for _, e := range entries {
			if name := filepath.Join(folder, e.Name()); !own[name] {
				return fmt.Errorf("writing data set %s: %s does not belong to this scenario: choose an empty folder", s.Name, filepath.Join(dir, name))
			}
		}
	}
	return nil
}

// writeTake writes the audio and the truth of one recording.
func (s *Scenario) writeTake(dir string, i, j int, seed uint64) error {
	p := &s.People[i]
	t := &p.Recordings[j]
	r, err := s.render(i, j, seed)
	if err != nil {
		return err
	}
	base := filepath.Join(dir, audioDir, p.recordingID(t))
	switch t.File {
	case EmptyFile:
		err = os.WriteFile(base+".wav", nil, 0o666)
	case TextFile:
		err = os.WriteFile(base+".wav", []byte("Please ask for this one again, the recorder was full.\n"), 0o666)
	default:
		err = writeWAV(base+".wav", r)
	}
	if err != nil {
		return s.errorf(takeKey(i, j), "recording %s: %w", p.recordingID(t), err)
	}
	if t.Unannotated {
		return nil
	}
	return writeFile(base+".csv", func(w io.Writer) error { return writeTruth(w, r.Truth) })
}

// render makes one recording. Its seed follows from its name, so that it does
// not depend on the rows before it.
func (s *Scenario) render(i, j int, seed uint64) (*Recording, error) {
	p := &s.People[i]
	t := &p.Recordings[j]
	id := p.recordingID(t)
	h, err := p.heart(t, stream(seed, id).Uint64())
	if err != nil {
		return nil, s.errorf(personKey(i), "person %s: %w", p.ID, err)
	}
	r, err := h.record(t, s.Rate)
	if err != nil {
		return nil, s.errorf(takeKey(i, j), "recording %s: %w", id, err)
	}
	return r, nil
}

// writeTruth writes intervals as CSV with the header start_s,end_s,state. Times
// are in seconds with as many of nine decimals as they need, so that they can be
// read back to the nanosecond.
func writeTruth(w io.Writer, intervals []pcg.Interval) error {
	b := bufio.NewWriter(w)
	b.WriteString("start_s,end_s,state\n")
	for _, iv := range intervals {
		fmt.Fprintf(b, "%s,%s,%v\n", seconds(iv.Start), seconds(iv.End), iv.State)
	}
	return b.Flush()
}

// seconds prints a time that is not negative, exactly.
func seconds(t time.Duration) string {
	text := fmt.Sprintf("%d.%09d", t/time.Second, t%time.Second)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

func (s *Scenario) writePeople(w io.Writer) error {
	rows := [][]string{{"id", "second_id", "age_years", "age_group", "sex", "heart_rate_bpm", "rhythm", "murmur", "murmur_state", "murmur_shape"}}
	for i := range s.People {
		p := &s.People[i]
		rhythm, murmur, state, shape := "regular", "absent", "", ""
		if p.Premature > 0 || p.Missed > 0 {
			rhythm = "irregular"
		}
		if len(p.Murmurs) > 0 { // the first is the one that names the person's group
			murmur, state, shape = "present", p.Murmurs[0].State, string(p.Murmurs[0].Shape)
		}
		for k, id := range p.ids() {
			other := p.SecondID
			if k == 1 {
				other = p.ID
			}
			rows = append(rows, []string{
				id, other, strconv.Itoa(p.Age), ageGroup(p.Age), string(p.Sex), number(p.HeartRate), rhythm, murmur, state, shape,
			})
		}
	}
	return csv.NewWriter(w).WriteAll(rows)
}

func (s *Scenario) writeRecordings(w io.Writer) error {
	rows := [][]string{{"recording", "person", "site", "take", "condition", "noise", "snr_db", "clicks_per_min", "clip_level", "inverted"}}
	for i := range s.People {
		p := &s.People[i]
		for j := range p.Recordings {
			t := &p.Recordings[j]
			snr, clip := "", ""
			if t.SNR != nil {
				snr = number(*t.SNR)
			}
			if t.Clip > 0 {
				clip = number(t.Clip)
			}
			rows = append(rows, []string{
				audioDir + "/" + p.recordingID(t), p.ID, string(t.Site), strconv.Itoa(max(1, t.Take)), p.condition(t),
				string(t.Noise), snr, number(t.Clicks), clip, strconv.FormatBool(t.Inverted),
			})
		}
	}
	return csv.NewWriter(w).WriteAll(rows)
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// writeFile writes a small file in one piece.
func writeFile(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return os.WriteFile(path, b.Bytes(), 0o666)
}

func writeWAV(path string, r *Recording) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() {
		if closed := f.Close(); err == nil {
			err = closed
		}
	}()
	return audio.WriteWAV(f, r.Samples, r.Rate)
}
