package degraded

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/rundir"
	"phonocycle/pipeline/synth"
	"phonocycle/pipeline/synth/degrade"
)

// many returns a data set of three recordings, one that is broken, a WAV file that the
// layout does not read, and a licence.
func many(t *testing.T) config.Input {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "many")
	if err := synth.WriteMany(context.Background(), dir, 4, 2*time.Second, 1); err != nil {
		t.Fatal(err)
	}
	wavs, err := filepath.Glob(filepath.Join(dir, "recordings", "*.wav"))
	if err != nil || len(wavs) != 4 {
		t.Fatal(wavs, err)
	}
	write(t, wavs[3], "RIFF and no more")
	write(t, filepath.Join(dir, "LICENCE"), "free")
	write(t, filepath.Join(dir, "rejected", "x.WAV"), "noise")
	return config.Input{Data: dir, Layout: filepath.Join(dir, "many.yaml")}
}

func write(t *testing.T, path, content string) {
	t.Helper()
	err := os.MkdirAll(filepath.Dir(path), 0o700)
	if err == nil {
		err = os.WriteFile(path, []byte(content), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func options(t *testing.T, src config.Input, condition string) Options {
	t.Helper()
	c, err := degrade.Parse(condition)
	if err != nil {
		t.Fatal(err)
	}
	return Options{Input: src, Condition: c, Seed: 1, Out: filepath.Join(t.TempDir(), "out"), Workers: 2}
}

func mustWrite(t *testing.T, o Options) *Report {
	t.Helper()
	r, err := Write(context.Background(), o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// content returns all files below a folder.
func content(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		files[filepath.ToSlash(name)] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestCopy(t *testing.T) {
	src := many(t)
	before := content(t, src.Data)
	o := options(t, src, "noise=pink,snr=5")
	r := mustWrite(t, o)
	if r.Count(dataset.CopyChanged) != 3 || r.Count(dataset.CopyUnchanged) != 1 || r.Count(dataset.CopyFailed) != 0 {
		t.Errorf("%+v", r.Copy.Recordings)
	}
	got := content(t, o.Out)
	for name, text := range before {
		isAudio := strings.HasPrefix(name, "recordings/") && strings.HasSuffix(name, ".wav")
		switch copied, there := got[name]; {
		case name == "rejected/x.WAV":
			if there {
				t.Error("a WAV file that the layout does not read is copied")
			}
		case isAudio && strings.HasPrefix(text, "RIFF and"), !isAudio:
			if copied != text {
				t.Errorf("%s is not copied as it is", name)
			}
		case copied == text || len(copied) != len(text):
			t.Errorf("%s is not changed", name)
		}
	}
	if len(got) != len(before) { // less one, and the record
		t.Errorf("%v", slices.Sorted(maps.Keys(got)))
	}
	if after := content(t, src.Data); !maps.Equal(after, before) {
		t.Error("the data set that was copied has changed")
	}
	if want := []string{"rejected/x.WAV"}; !slices.Equal(r.Copy.LeftOut, want) {
		t.Errorf("left out: %v", r.Copy.LeftOut)
	}
	for _, f := range r.Copy.Files {
		if f.Digest != rundir.Digest([]byte(got[f.Path])) {
			t.Errorf("%s: digest %s", f.Path, f.Digest)
		}
	}

	// Other workers, another time, with another recording gone: the same bytes.
	again := options(t, src, "noise=pink,snr=5")
	again.Workers = 1
	mustWrite(t, again)
	if !maps.Equal(content(t, again.Out), got) {
		t.Error("one worker gives another copy")
	}
	first := r.Copy.Recordings[0].Audio
	if err := os.Remove(filepath.Join(src.Data, first)); err != nil {
		t.Fatal(err)
	}
	fewer := options(t, src, "noise=pink,snr=5")
	for _, rec := range mustWrite(t, fewer).Copy.Recordings {
		if content(t, fewer.Out)[rec.Audio] != got[rec.Audio] {
			t.Errorf("%s depends on another recording", rec.Audio)
		}
	}
	fewer.Seed, fewer.Out = 2, filepath.Join(t.TempDir(), "other")
	mustWrite(t, fewer)
	if second := r.Copy.Recordings[1].Audio; content(t, fewer.Out)[second] == got[second] {
		t.Error("another seed gives the same copy")
	}
}

// What opens a copy states its condition, and refuses one that is not complete or whose
// record is damaged.
func TestRecord(t *testing.T) {
	src := many(t)
	o := options(t, src, "rate=1000")
	mustWrite(t, o)
	open := func() (*dataset.Set, error) {
		layout, err := dataset.LoadLayout(src.Layout)
		if err != nil {
			t.Fatal(err)
		}
		return dataset.Open(o.Out, layout)
	}
	set, err := open()
	if err != nil {
		t.Fatal(err)
	}
	defer set.Close()
	if set.Copy == nil || set.Copy.Changes.String() != "rate=1000 (seed 1)" || set.Copy.Recordings[0].Rate != 4000 {
		t.Errorf("%+v", set.Copy)
	}
	path := filepath.Join(o.Out, dataset.CopyFile)
	record, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for what, tt := range map[string]struct{ text, want string }{
		"not complete":       {strings.Replace(string(record), `"complete": true`, `"complete": false`, 1), "the copy is not complete"},
		"damaged":            {string(record[:len(record)/2]), "may be the record of a copy"},
		"no condition":       {`{"tool": "phonocycle 1"}`, "names no condition"},
		"of another form":    {`{"tool": "phonocycle 1", "changes": 3}`, "make the copy again"},
		"of another program": {`{"condition": "good"}`, ""},
	} {
		write(t, path, tt.text)
		set, err := open()
		if tt.want == "" {
			if err != nil || set.Copy != nil {
				t.Errorf("%s: %v", what, err)
			} else {
				set.Close()
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", what, err, tt.want)
		}
	}
}

// A copy is replaced only where that is asked for, and nothing else ever.
func TestOutputFolder(t *testing.T) {
	src := many(t)
	o := options(t, src, "rate=1000")
	mustWrite(t, o)
	again := o
	again.Condition = options(t, src, "bits=8").Condition
	refused := func(what, want string, o Options) {
		t.Helper()
		before := content(t, o.Out)
		if _, err := Write(context.Background(), o, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", what, err, want)
		}
		if !maps.Equal(content(t, o.Out), before) {
			t.Errorf("%s: the folder has changed", what)
		}
	}
	refused("a copy", "holds a copy changed by rate=1000 (seed 1): give --overwrite", again)
	record := filepath.Join(o.Out, dataset.CopyFile)
	text, err := os.ReadFile(record)
	if err != nil {
		t.Fatal(err)
	}
	write(t, record, string(bytes.Replace(text, []byte(`"complete": true`), []byte(`"complete": false`), 1)))
	refused("an unfinished copy", "not complete: give --overwrite", again)
	foreign := filepath.Join(o.Out, "notes.txt")
	write(t, foreign, "mine")
	again.Overwrite = true
	refused("with a file of another", "1 files that degrade did not write, the first is notes.txt", again)
	if err := os.Remove(foreign); err != nil {
		t.Fatal(err)
	}

	// What a killed call leaves is removed, and so is what the new copy does not have.
	write(t, filepath.Join(o.Out, "recordings", "p000001_aortic.wav.ABCDEFGH.partial"), "half")
	write(t, record+".ABCDEFGH.partial", "half")
	if err := os.Remove(filepath.Join(src.Data, "LICENCE")); err != nil {
		t.Fatal(err)
	}
	mustWrite(t, again)
	fresh := options(t, src, "bits=8")
	mustWrite(t, fresh)
	if got, want := content(t, o.Out), content(t, fresh.Out); !maps.Equal(got, want) {
		t.Errorf("over another copy: %v, want %v", slices.Sorted(maps.Keys(got)), slices.Sorted(maps.Keys(want)))
	}

	begun := options(t, src, "bits=8") // killed while it wrote its first file
	write(t, filepath.Join(begun.Out, dataset.CopyFile+".ABCDEFGH.partial"), "half")
	mustWrite(t, begun)
	own := options(t, src, "bits=8")
	write(t, filepath.Join(own.Out, "recordings", "mine.wav"), "mine")
	own.Overwrite = true
	refused("a folder of another", "files that degrade did not write", own)
}

func TestRefusals(t *testing.T) {
	src := many(t)
	if _, err := Write(context.Background(), Options{Input: src}, nil); err == nil || !strings.Contains(err.Error(), "--condition") {
		t.Errorf("no condition: %v", err)
	}
	if _, err := Write(context.Background(), options(t, src, "noise=nowhere,snr=3"), nil); err == nil || !strings.Contains(err.Error(), "nowhere") {
		t.Errorf("no noise: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	o := options(t, src, "bits=8")
	if _, err := Write(ctx, o, nil); err == nil || !strings.Contains(err.Error(), "--overwrite") {
		t.Errorf("interrupted: %v", err)
	}
	if c := readRecord(o.Out); c == nil || c.Complete {
		t.Errorf("an interrupted copy: %+v", c)
	}
	write(t, filepath.Join(src.Data, dataset.CopyFile), `{"weather": "rain"}`)
	if _, err := Write(context.Background(), options(t, src, "bits=8"), nil); err == nil || !strings.Contains(err.Error(), "another name") {
		t.Errorf("a file of the name of the record: %v", err)
	}

	record := filepath.Join(t.TempDir(), "record")
	write(t, filepath.Join(record, "r.hea"), "r 1 1000 3000\nr.dat 16 1000 16 0 0 0 0 PCG\n")
	write(t, filepath.Join(record, "r.dat"), strings.Repeat("\x01\x00", 3000))
	layout := filepath.Join(t.TempDir(), "record.yaml")
	write(t, layout, `name: record
title: One record
version: "1"
citation: none
licence: none
source: made
audio: {include: ["*.hea"]}
recording: {patterns: ['(?P<id>\w+)\.hea']}
`)
	if _, err := Write(context.Background(), options(t, config.Input{Data: record, Layout: layout}, "bits=8"), nil); err == nil || !strings.Contains(err.Error(), "with --condition bits=8 of run") {
		t.Errorf("a WFDB record: %v", err)
	}
}

// A recording that the condition cannot change is not in the copy, and told.
func TestFailedRecording(t *testing.T) {
	src := many(t)
	noise := filepath.Join(t.TempDir(), "noise")
	silent, err := os.ReadFile(filepath.Join(src.Data, "recordings", "p000001_aortic.wav"))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(noise, "silent.wav"), string(silent[:44])+strings.Repeat("\x00", len(silent)-44))
	o := options(t, src, fmt.Sprintf("noise=%s,snr=3", noise))
	r := mustWrite(t, o)
	if r.Count(dataset.CopyFailed) != 3 || r.Count(dataset.CopyUnchanged) != 1 {
		t.Errorf("%+v", r.Copy.Recordings)
	}
	for _, rec := range r.Copy.Recordings {
		if _, there := content(t, o.Out)[rec.Audio]; there != (rec.Outcome == dataset.CopyUnchanged) || !there && !strings.Contains(rec.Reason, "remove silent files") {
			t.Errorf("%+v", rec)
		}
	}
}
