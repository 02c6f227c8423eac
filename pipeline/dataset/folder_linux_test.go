package dataset

import (
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sys/unix"
)

// nobody is the user who owns no files, by convention of Linux.
const nobody = 65534

// dropRights takes the rights over files from this thread, until restore.
func dropRights() (restore func(), err error) {
	if os.Geteuid() != 0 {
		return func() {}, nil
	}
	if err := unix.Setfsuid(nobody); err != nil {
		return nil, err
	}
	return func() { _ = unix.Setfsuid(0) }, nil
}

// What stands in the place of a recording and is none is listed, and reading it
// fails at once, says what it is, and waits for nobody.
func TestWhatIsNoFile(t *testing.T) {
	root := plant(t, map[string]string{"x.wav": "8000 5", "folder.wav/y.wav": "8000 5"})
	at := func(name string) string { return filepath.Join(root, name) }
	if err := unix.Mkfifo(at("pipe.wav"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := unix.Mkfifo(at("x.csv"), 0o644); err != nil {
		t.Fatal(err)
	}
	for link, to := range map[string]string{"loop.wav": "circle.wav", "circle.wav": "loop.wav", "to-pipe.wav": "pipe.wav", "self": "."} {
		if err := os.Symlink(to, at(link)); err != nil {
			t.Fatal(err)
		}
	}
	if l, err := net.Listen("unix", at("socket.wav")); err == nil { // a long TMPDIR has no room for one
		defer l.Close()
	}
	s := openLayout(t, root, "plain")
	var ids []string
	for i := range s.Recordings {
		if id := s.Recordings[i].ID; id != "socket" {
			ids = append(ids, id)
		}
		if s.Recordings[i].Reference != "" {
			t.Errorf("a pipe is taken for the reference of %s", s.Recordings[i].ID)
		}
	}
	if diff := cmp.Diff([]string{"circle", "folder", "folder.wav/y", "loop", "pipe", "to-pipe", "x"}, ids); diff != "" {
		t.Error(diff)
	}
	for name, want := range map[string]string{
		"pipe.wav":    "a named pipe and no file: put the file itself there",
		"to-pipe.wav": "a named pipe and no file: put the file itself there",
		"socket.wav":  "put the file itself there",
		"loop.wav":    "put the file itself there",
		"folder.wav":  "a folder and no file: put the file itself there",
		"gone.wav":    "no such file or directory: it was there when the folder was listed",
	} {
		if _, err := readFile(s, name); err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), name+": ") {
			t.Errorf("%s: error %v, want %q", name, err, want)
		}
	}
}
