package dataset

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// linked makes a folder with a link for each name.
func linked(t *testing.T, links map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, to := range links {
		p := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(to, p); err != nil {
			t.Skipf("no symbolic links here: %v", err)
		}
	}
	return root
}

func openFollowing(t *testing.T, root, layout string) *Set {
	t.Helper()
	l, err := LoadLayout(layout)
	if err != nil {
		t.Fatal(err)
	}
	s, err := OpenWith(root, l, Options{FollowLinks: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// A data set of which every file and one folder is a link to a store is read
// with the flag as if the files lay there. Without it, nothing of it is taken for
// absent: recordings, annotations and the table name link, target and flag.
func TestLinkedDataSet(t *testing.T) {
	store := plant(t, map[string]string{
		"1": "8000 5", "2": "0.5,0.6,S1\n0.6,0.8,systole\n", "3": "recording,person\nx,7\nsub/y,8\n", "4/y.wav": "4000 7", "4/y.csv": "1,2,S1\n",
	})
	at := func(name string) string { return filepath.Join(store, name) }
	root := linked(t, map[string]string{"x.wav": at("1"), "x.csv": at("2"), "recordings.csv": at("3"), "sub": at("4"), "sub2/gone.wav": at("nowhere")})

	s := openFollowing(t, root, "plain")
	want := []pcg.Recording{
		{ID: "sub/y", DataSet: "plain", Person: "8", Take: 1, Audio: "sub/y.wav", Reference: "sub/y.csv"},
		{ID: "sub2/gone", DataSet: "plain", Person: "sub2/gone", Take: 1, Audio: "sub2/gone.wav", PersonUnknown: true},
		{ID: "x", DataSet: "plain", Person: "7", Take: 1, Audio: "x.wav", Reference: "x.csv"},
	}
	for i := range s.Recordings {
		s.Recordings[i].Labels = pcg.Labels{}
	}
	if diff := cmp.Diff(fmt.Sprintf("%+v", want), fmt.Sprintf("%+v", s.Recordings)); diff != "" {
		t.Error(diff)
	}
	for i, length := range map[int]float64{0: 7, 2: 5} {
		if _, got, err := fakeProbe(s, s.Recordings[i].Audio); err != nil || got.Seconds() != length {
			t.Errorf("%s: %v, %v", s.Recordings[i].ID, got, err)
		}
		if ref, _, err := s.Reference(&s.Recordings[i], 8000, 0); err != nil || len(ref.Intervals) == 0 {
			t.Errorf("reference %+v, error %v", ref, err)
		}
	}
	if _, err := readFile(s, "sub2/gone.wav"); err == nil || !strings.Contains(err.Error(), "symbolic link to "+at("nowhere")+", where there is no readable file") {
		t.Errorf("error %v", err)
	}
	if got, want := *scanOf(t, s).Links, (LinkCounts{Followed: 3, Broken: 1, FoldersFollowed: 1}); got != want {
		t.Errorf("links %+v, want %+v", got, want)
	}

	s = openLayout(t, root, "plain")
	if ids := idsOf(s); !slices.Equal(ids, []string{"sub2/gone", "x"}) {
		t.Errorf("recordings %q", ids)
	}
	_, audio := readFile(s, "x.wav")
	_, _, reference := s.Reference(&s.Recordings[1], 8000, 0)
	for to, text := range map[string]string{
		"1": fmt.Sprint(audio), "2": fmt.Sprint(reference), "3": strings.Join(messagesOf(s, tableUnreadable.kind), "\n"),
		"4": strings.Join(messagesOf(s, folderLinked.kind), "\n"),
	} {
		if !strings.Contains(text, at(to)) || !strings.Contains(text, "--follow-links") {
			t.Errorf("%s names neither target nor flag: %s", to, text)
		}
	}
	if got := strings.Join(s.Warnings, "\n"); !strings.Contains(got, "3 files are symbolic links out of the data root and were not read, the first is recordings.csv; give --follow-links") ||
		!strings.Contains(got, "1 linked folders were not followed, the first is sub") {
		t.Errorf("warnings %s", got)
	}
	inv := scanOf(t, s)
	if got, want := *inv.Links, (LinkCounts{Outside: 3, Broken: 1, FoldersNotFollowed: 1}); got != want {
		t.Errorf("links %+v, want %+v", got, want)
	}
	var text strings.Builder
	if err := inv.WriteText(&text, 5); err != nil || !strings.Contains(text.String(),
		"symbolic links  3 to files out of the data root, not read, 1 to nothing, 1 to folders that are not read (--follow-links reads these)\n") {
		t.Errorf("%v\n%s", err, text.String())
	}
}

func scanOf(t *testing.T, s *Set) *Inventory {
	t.Helper()
	inv, err := s.Scan(t.Context(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	return inv
}

func idsOf(s *Set) []string {
	var ids []string
	for i := range s.Recordings {
		ids = append(ids, s.Recordings[i].ID)
	}
	return ids
}

// A data set whose one folder is a link says how to read it.
func TestLinkedFolderOfAll(t *testing.T) {
	store := plant(t, map[string]string{"1_AV.wav": "4000 5"})
	l, err := LoadLayout("circor")
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(linked(t, map[string]string{"training_data": store}), l)
	if err == nil || !strings.Contains(err.Error(), "1 folders there are symbolic links, the first is training_data; give --follow-links") {
		t.Errorf("error %v", err)
	}
}

// An annotation behind a linked folder is no absent one, and a second place is
// not taken instead.
func TestAnnotationBehindLinkedFolder(t *testing.T) {
	store := plant(t, map[string]string{"x.csv": "1,2,S1\n"})
	root := linked(t, map[string]string{"hand": store})
	for name, text := range map[string]string{"x.wav": "8000 5", "x.csv": "3,4,S1\n"} {
		if err := os.WriteFile(filepath.Join(root, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	l, err := LoadLayout("plain")
	if err != nil {
		t.Fatal(err)
	}
	l.References[0].Paths = []string{"hand/{stem}.csv", "{dir}/{stem}.csv"}
	for _, follow := range []bool{false, true} {
		s, err := OpenWith(root, l, Options{FollowLinks: follow})
		if err != nil {
			t.Fatal(err)
		}
		ref, _, err := s.Reference(&s.Recordings[0], 8000, 0)
		if follow && (err != nil || ref.Intervals[0].Start != second) {
			t.Errorf("followed: %+v, %v", ref, err)
		}
		if !follow && (err == nil || !strings.Contains(err.Error(), "hand: symbolic link to the folder "+store+": not followed: give --follow-links")) {
			t.Errorf("not followed: %+v, %v", ref, err)
		}
		s.Close()
	}
}

// Links that lead round end, folders that all link one another end too, and
// what is no file is not opened behind a link either.
func TestLinksInLoops(t *testing.T) {
	outside := plant(t, map[string]string{"o/x.wav": "8000 5"})
	root := linked(t, map[string]string{
		"self": ".", "a/b": "../c", "c/a": "../a", "zero.wav": os.DevNull, "round.wav": "round.wav", "out": filepath.Join(outside, "o"),
	})
	if err := os.Symlink(root, filepath.Join(outside, "o", "back")); err != nil {
		t.Fatal(err)
	}
	s := openFollowing(t, root, "plain")
	if ids := idsOf(s); !slices.Equal(ids, []string{"out/x", "round", "zero"}) {
		t.Errorf("recordings %q", ids)
	}
	want := LinkCounts{Loops: 5, NoFiles: 1, FoldersFollowed: 3}
	if got := *scanOf(t, s).Links; got != want {
		t.Errorf("links %+v, want %+v", got, want)
	}
	for name, want := range map[string]string{"zero.wav": "a pipe, socket or device and no file", "round.wav": "which leads back to itself"} {
		if _, err := readFile(s, name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", name, err, want)
		}
	}

	crowd := t.TempDir()
	const n = 9
	for i := range n {
		dir := filepath.Join(crowd, fmt.Sprintf("%02d", i))
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		for k := range n - 1 {
			if err := os.Symlink(fmt.Sprintf("../%02d", (i+k+1)%n), filepath.Join(dir, fmt.Sprint(k))); err != nil {
				t.Fatal(err)
			}
		}
	}
	f, err := openFolder(crowd, true)
	if err != nil {
		t.Fatal(err)
	}
	defer f.close()
	f.room = 100
	if _, err := f.list(); err != nil || f.links.FoldersFollowed != 100 || f.links.FoldersNotFollowed == 0 {
		t.Errorf("%+v, %v", f.links, err)
	}
}

// With links followed, names still do not climb out of the data root.
func TestFollowingStaysBelowTheRoot(t *testing.T) {
	outside := plant(t, map[string]string{"secret.csv": "0,1,S1\n", "deep/er/y.wav": "8000 5", "root/x.wav": "8000 5"})
	if err := os.Symlink("../deep/er", filepath.Join(outside, "root", "sub")); err != nil {
		t.Skip(err)
	}
	s := openFollowing(t, filepath.Join(outside, "root"), "plain")
	if ids := idsOf(s); !slices.Equal(ids, []string{"sub/y", "x"}) {
		t.Errorf("recordings %q", ids)
	}
	for _, name := range []string{"../secret.csv", "sub/../../secret.csv", "sub/../x.wav", "/etc/hostname", filepath.Join(outside, "secret.csv"), ""} {
		if _, err := readFile(s, name); err == nil || !strings.Contains(err.Error(), "leads out of the data root") {
			t.Errorf("ReadFile(%q): %v", name, err)
		}
	}
}
