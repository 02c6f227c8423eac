package dataset

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestPrintable(t *testing.T) {
	for name, want := range map[string]string{
		"sub/é ü.wav":   "sub/é ü.wav",
		"caf\xe9.wav":   `caf\xe9.wav`,
		"a\nb\x1b[2J":   `a\nb\x1b[2J`,
		`say "a`:        `say "a`,
		"\xff\"":        `\xff"`,
		"u\u202ev.wav":  `u\u202ev.wav`,
		"\uFFFD":        "\uFFFD",
		"nul\x00in.wav": `nul\x00in.wav`,
	} {
		if got := Printable(name); got != want {
			t.Errorf("Printable(%q) = %q, want %q", name, got, want)
		}
	}
}

// A thousand recordings with one name in as many folders have as many ids.
func TestOneNameInManyFolders(t *testing.T) {
	const n = 1_000
	root := t.TempDir()
	for i := range n {
		dir := filepath.Join(root, fmt.Sprintf("%02d", i%10), fmt.Sprintf("%03d", i/10))
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "rec.wav"), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s := openLayout(t, root, "plain")
	ids := map[string]bool{}
	for i := range s.Recordings {
		if r := &s.Recordings[i]; r.Unusable == "" {
			ids[r.ID] = true
		}
	}
	if len(ids) != n || len(s.Recordings) != n {
		t.Errorf("%d ids of %d recordings, want %d", len(ids), len(s.Recordings), n)
	}

	// A layout whose patterns do not fit takes the id from the name alone and
	// cannot tell them apart: one has the id, and the others are listed with the
	// reason.
	l, err := ParseLayout("flat.yaml", []byte(minimal))
	if err != nil {
		t.Fatal(err)
	}
	l.Audio.Include = []string{"**/*.wav"}
	flat, err := Open(root, l)
	if err != nil {
		t.Fatal(err)
	}
	defer flat.Close()
	clear(ids)
	usable := 0
	for i := range flat.Recordings {
		r := &flat.Recordings[i]
		ids[r.ID] = true
		if r.Unusable == "" {
			usable++
		} else if !strings.Contains(r.Unusable, r.Audio) || !strings.Contains(r.Unusable, "rename") {
			t.Fatalf("%s: %s", r.ID, r.Unusable)
		}
	}
	if usable != 1 || len(ids) != n {
		t.Errorf("%d usable recordings under %d ids, want 1 under %d", usable, len(ids), n)
	}
}

func TestNamesThatAreNotText(t *testing.T) {
	root := t.TempDir()
	long := strings.Repeat("é", 120) // 240 of the 255 bytes a name may have
	deep := strings.Repeat(strings.Repeat("d", 200)+"/", 15) + long
	for _, name := range []string{"caf\xe9", "a\nb", deep} {
		p := filepath.Join(root, name+".wav")
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte("8000 5"), 0o644); err != nil {
			t.Skipf("this file system refuses the name: %v", err)
		}
		if err := os.WriteFile(filepath.Join(root, name+".csv"), []byte("0.5,0.6,S1\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s := openLayout(t, root, "plain")
	var got []string
	for i := range s.Recordings {
		r := &s.Recordings[i]
		got = append(got, r.ID)
		if _, err := readFile(s, r.Audio); err != nil {
			t.Error(err)
		}
		if _, _, err := s.Reference(r, 8000, 5*second); err != nil {
			t.Error(err)
		}
	}
	if diff := cmp.Diff([]string{`a\nb`, `caf\xe9`, deep}, got); diff != "" {
		t.Error(diff)
	}
}

// rewriting is a file that someone writes to as soon as it is read.
type rewriting struct {
	*os.File
	rewrite func(path string) error
}

func (r *rewriting) Read(p []byte) (int, error) {
	if r.rewrite != nil {
		if err := r.rewrite(r.Name()); err != nil {
			return 0, err
		}
		r.rewrite = nil
	}
	return r.File.Read(p)
}

func TestFileChangesWhileItIsRead(t *testing.T) {
	const content = "8000 5"
	for name, rewrite := range map[string]func(string) error{
		"shorter": func(p string) error { return os.Truncate(p, 3) },
		"longer":  func(p string) error { return os.WriteFile(p, []byte(content+content), 0o600) },
		"same length": func(p string) error {
			return os.Chtimes(p, time.Time{}, time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC))
		},
		"": nil,
	} {
		p := filepath.Join(plant(t, map[string]string{"x.wav": content}), "x.wav")
		f, err := os.Open(p)
		if err != nil {
			t.Fatal(err)
		}
		read, err := newFile("x.wav", &rewriting{f, rewrite})
		if err != nil {
			t.Fatal(err)
		}
		got, err := readAll(read)
		switch {
		case rewrite == nil && (err != nil || string(got) != content):
			t.Errorf("unchanged: %q, %v", got, err)
		case rewrite != nil && (err == nil || !strings.Contains(err.Error(), "changed while it was read: run again")):
			t.Errorf("%s: %q, %v", name, got, err)
		}
		f.Close()
	}
}

// A layout cannot lead out of the data root by what a table or a name says
// either.
func TestTemplatesStayBelowTheRoot(t *testing.T) {
	outside := plant(t, map[string]string{"secret.csv": "0,1,S1\n", "root/x.wav": "8000 5", "root/recordings.csv": "recording,person\nx,..\n"})
	l, err := LoadLayout("plain")
	if err != nil {
		t.Fatal(err)
	}
	l.References[0].Paths = []string{"{person}/secret.csv"}
	s, err := Open(filepath.Join(outside, "root"), l)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if r := s.Recordings[0]; r.Person != ".." || r.Reference != "" {
		t.Errorf("%+v", r)
	}
	if _, err := readFile(s, "../secret.csv"); err == nil {
		t.Error("read a file above the data root")
	}
}

// messageOf lists the defects of a kind.
func messagesOf(s *Set, kind Kind) []string {
	var out []string
	for i := range s.Defects {
		if s.Defects[i].Kind == kind {
			out = append(out, s.Defects[i].String())
		}
	}
	return out
}

// asNobody calls f with the rights of a user who owns nothing, as far as the
// system allows that to one thread.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	restore, err := dropRights()
	if err != nil {
		t.Skipf("cannot read as another user: %v", err)
	}
	defer restore()
	f()
}

func TestUnreadableFileAndFolder(t *testing.T) {
	root := plant(t, map[string]string{"x.wav": "8000 5", "locked/y.wav": "8000 5", "z.wav": "8000 5"})
	for name, mode := range map[string]fs.FileMode{".": 0o755, "..": 0o755, "x.wav": 0o644, "z.wav": 0, "locked": 0} {
		if err := os.Chmod(filepath.Join(root, name), mode); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { os.Chmod(filepath.Join(root, "locked"), 0o755) })
	asNobody(t, func() {
		s := openLayout(t, root, "plain")
		if n := len(s.Recordings); n != 2 {
			t.Errorf("%d recordings, want x and z", n)
		}
		if got := messagesOf(s, "unreadable folder"); len(got) != 1 || !strings.Contains(got[0], "locked: folder cannot be listed: permission denied") {
			t.Errorf("defects %q", got)
		}
		if got := strings.Join(s.Warnings, "\n"); !strings.Contains(got, "1 folders were not read, the first is locked") {
			t.Errorf("warnings %q", got)
		}
		if _, err := readFile(s, "x.wav"); err != nil {
			t.Error(err)
		}
		if _, err := readFile(s, "z.wav"); err == nil || err.Error() != "z.wav: permission denied: make it readable" {
			t.Errorf("error %v", err)
		}
	})
}
