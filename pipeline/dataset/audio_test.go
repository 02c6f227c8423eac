package dataset

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// records is a layout of WFDB records, with %s for further keys of audio.
const records = `name: records
title: Records
version: "1"
citation: none
licence: none
source: none
audio:
  include: ["**/*.hea"]
  AUDIO
recording:
  patterns: ['(?:.*/)?(?P<id>\w+)\.hea']
`

func openRecords(t *testing.T, root, audio string) *Set {
	t.Helper()
	l, err := ParseLayout("records.yaml", []byte(strings.Replace(records, "AUDIO", audio, 1)))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Open(root, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func plantRecords(t *testing.T) string {
	t.Helper()
	return plant(t, map[string]string{
		"one/a.hea": "a 2 2000 2\na.wav 16+4 1 16 0 0 0 0 PCG\na.dat 16 1000 16 0 0 0 0 ECG\n",
		"one/a.wav": "RIFF\x01\x00\x02\x00", "one/a.dat": "\x03\x00\x04\x00",
		"b.hea": "b 1 2000 2\nb.dat 16\n", "b.dat": "\x05\x00\x06\x00",
		"loose.wav": "RIFF",
	})
}

func TestRecordsAreListed(t *testing.T) {
	s := openRecords(t, plantRecords(t), "")
	if len(s.Recordings) != 2 || s.Recordings[0].Audio != "one/a.hea" || s.Recordings[1].Audio != "b.hea" || s.Recordings[0].ID != "a" {
		t.Errorf("%+v", s.Recordings)
	}
	warned := strings.Join(s.Warnings, "\n")
	if !strings.Contains(warned, "1 WAV files match no pattern of the layout and are not read, the first is loose.wav") {
		t.Error(warned)
	}
	if _, err := ParseLayout("plain.yaml", []byte(strings.Replace(strings.Replace(records, "*.hea", "*.wav", 1), "AUDIO", "channel: PCG", 1))); err == nil ||
		!strings.Contains(err.Error(), `plain.yaml:9:12: audio.channel: "PCG": it names a signal of a WFDB record, and no pattern ends in .hea`) {
		t.Error(err)
	}
}

func TestChannelOfARecord(t *testing.T) {
	root := plantRecords(t)
	for _, c := range []struct {
		key, file string
		channel   int
		want      string // bytes of the signal file, or error
	}{
		{"channel: PCG", "one/a.hea", 0, "\x01\x00\x02\x00"},
		{"channel: ecg", "one/a.hea", 0, "\x03\x00\x04\x00"},
		{"channel: 2", "one/a.hea", 0, "\x03\x00\x04\x00"},
		{"channel: PCG", "one/a.hea", 2, "\x03\x00\x04\x00"},
		{"", "one/a.hea", 1, "\x01\x00\x02\x00"},
		{"", "b.hea", 0, "\x05\x00\x06\x00"},
		{"", "one/a.hea", 0, "one/a.hea: the record has the signals 1 PCG, 2 ECG: name the one with the heart sound as audio.channel in the layout, or give its number as --channel"},
		{"channel: PCG", "b.hea", 0, `b.hea: no such signal: "PCG": the record has 1: correct audio.channel in the layout, or give the number as --channel`},
		{"channel: PCG", "one/a.hea", 3, "one/a.hea: no such signal: number 3: the record has 1 PCG, 2 ECG: correct --channel"},
	} {
		s := openRecords(t, root, c.key)
		a, err := s.OpenAudio(c.file, c.channel)
		if err != nil {
			if err.Error() != c.want {
				t.Errorf("%q, %d: %v", c.key, c.channel, err)
			}
			continue
		}
		rest, err := io.ReadAll(a.File)
		if err != nil || string(rest) != c.want || a.Signal.Rate != 2000 {
			t.Errorf("%q, %d: %q, %v", c.key, c.channel, rest, err)
		}
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestDigestOfARecord covers header and signal files, the one that is not read
// too.
func TestDigestOfARecord(t *testing.T) {
	root := plantRecords(t)
	s := openRecords(t, root, "channel: PCG")
	digest := func() string {
		t.Helper()
		d, err := s.AudioDigest("one/a.hea")
		if err != nil || len(d) != 64 {
			t.Fatal(d, err)
		}
		a, err := s.OpenAudio("one/a.hea", 1)
		if err != nil {
			return d
		}
		defer a.Close()
		if open, err := a.Digest(); err != nil || open != d {
			t.Errorf("digest %s while open, %s later, %v", open, d, err)
		}
		return d
	}
	// $ (sha256sum < a.hea; sha256sum < a.wav; sha256sum < a.dat) | cut -d' ' -f1 | sha256sum
	first := digest()
	if first != "0036a1b5c923e975438ef3bad70f030477c19b435bdc783249af191d7c53bd3c" {
		t.Errorf("digest %s", first)
	}
	seen := map[string]string{first: "as it was"}
	for _, name := range []string{"a.dat", "a.wav", "a.hea"} {
		path := filepath.Join(root, "one", name)
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for what, changed := range map[string]string{"changed": string(content[:len(content)-2]) + "\x07\n", "gone": ""} {
			if changed == "" && name == "a.hea" {
				continue
			}
			os.Remove(path)
			if changed != "" {
				if err := os.WriteFile(path, []byte(changed), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			d := digest()
			if seen[d] != "" {
				t.Errorf("%s %s: the digest is that of %s", name, what, seen[d])
			}
			seen[d] = name + " " + what
		}
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if last := digest(); last != first {
		t.Error("restored files have another digest")
	}
	if files, err := s.SampleFiles("one/a.hea"); err != nil || strings.Join(files, " ") != "one/a.wav one/a.dat" {
		t.Error(files, err)
	}
}

// TestRecordStaysBelowTheRoot: a header cannot lead out of the data root, by a
// path or by a link.
func TestRecordStaysBelowTheRoot(t *testing.T) {
	dir := plant(t, map[string]string{
		"secret.dat": "\x01\x00", "root/x.hea": "x 1 2000\n../secret.dat 16\n", "root/y.hea": "y 1 2000\nlink.dat 16\n",
		"root/z.hea": "z/2 1 2000\nz1 100\nz2 100\n", "root/v.hea": "v 1 2000\nv.dat 310\n", "root/w.hea": "w 1 2000\nw.dat 16\n",
	})
	if err := os.Symlink(filepath.Join(dir, "secret.dat"), filepath.Join(dir, "root", "link.dat")); err != nil {
		t.Fatal(err)
	}
	s := openRecords(t, filepath.Join(dir, "root"), "")
	for file, want := range map[string]string{
		"x.hea": `x.hea: not a header of a WFDB record: signal file "../secret.dat": want the name of a file beside the header`,
		"y.hea": "y.hea: link.dat: symbolic link to",
		"z.hea": `z.hea: line 1: record of several segments: "z" has 2: name the headers of its segments in the layout`,
		"v.hea": `v.hea: signal format that is not read: format 310 of "v.dat": convert the record to one of 16, 24, 32, 61, 80, 212`,
		"w.hea": "w.hea: signal file w.dat is not there: fetch it",
	} {
		if _, err := s.OpenAudio(file, 0); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %v", file, err)
		}
		if d, err := s.AudioDigest(file); err != nil || len(d) != 64 {
			t.Errorf("%s: digest %q, %v", file, d, err)
		}
	}
}
