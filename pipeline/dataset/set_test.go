package dataset

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"phonocycle/pipeline/pcg"
)

// plant writes files into a new folder. The content of a WAV file is rate and
// length in seconds, as fakeProbe reads it.
func plant(t testing.TB, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, content := range files {
		p := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

// readFile reads a file whole, and makes sure that it did not change meanwhile.
func readFile(s *Set, name string) ([]byte, error) {
	f, err := s.OpenFile(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readAll(f)
}

func readAll(f *File) ([]byte, error) {
	content, err := io.ReadAll(f)
	if err == nil {
		_, err = f.Digest()
	}
	return content, err
}

func fakeProbe(s *Set, path string) (rate int, length time.Duration, err error) {
	content, err := readFile(s, path)
	if err != nil {
		return 0, 0, err
	}
	var sec float64
	if _, err := fmt.Sscan(string(content), &rate, &sec); err != nil {
		return 0, 0, errors.New("not a WAV file")
	}
	return rate, pcg.FromSeconds(sec), nil
}

func openLayout(t testing.TB, root, layout string) *Set {
	t.Helper()
	l, err := LoadLayout(layout)
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

// places writes defects as "file:line kind".
func places(defects []Defect) []string {
	var out []string
	for i := range defects {
		at := defects[i].Place() + " " + string(defects[i].Kind)
		if text := defects[i].String(); strings.Contains(text, "%!") || strings.Contains(defects[i].Action, "%s") {
			at += ", whose arguments do not fit: " + text
		}
		out = append(out, at)
	}
	return out
}

const circorHeader = "Patient ID,Locations,Age,Sex,Height,Weight,Pregnancy status,Murmur,Murmur locations,Most audible location," +
	"Systolic murmur timing,Systolic murmur shape,Systolic murmur grading,Systolic murmur pitch,Systolic murmur quality," +
	"Diastolic murmur timing,Diastolic murmur shape,Diastolic murmur grading,Diastolic murmur pitch,Diastolic murmur quality,Outcome,Campaign,Additional ID\n"

// circorRow writes a row of the table with most columns missing.
func circorRow(id, height, murmur, sites, other string) string {
	return fmt.Sprintf("%s,AV,Child,Female,%s,nan,False,%s,%s,nan,nan,nan,nan,nan,nan,nan,nan,nan,nan,nan,Normal,CC2015,%s\n", id, height, murmur, sites, other)
}

const cycleTSV = "0\t1\t0\n1\t1.1\t1\n1.1\t1.3\t2\n1.3\t1.4\t3\n1.4\t1.8\t4\n1.8\t1.9\t1\n"

func TestCircor(t *testing.T) {
	root := plant(t, map[string]string{
		"training_data.csv": circorHeader +
			circorRow("9983", "98.0", "Absent", "nan", "14998.0") + // line 2
			circorRow("14998", "tall", "Present", "AV", "9983") +
			circorRow("20000", "nan", "Present", "12", "nan") +
			circorRow("20001", "nan", "Absent", "nan", "20002") + // one-sided
			circorRow("20003", "nan", "Absent", "nan", "nan") + // no recording
			circorRow("20003", "nan", "Absent", "nan", "nan") + // again
			"20004,AV\n",
		"training_data/9983_AV.wav":      "4000 10",
		"training_data/9983_AV.tsv":      cycleTSV,
		"training_data/9983_AV.hea":      "9983_AV 1 4000 40000\n",
		"training_data/9983.txt":         "9983 1 4000\n",
		"training_data/14998_MV_2.wav":   "4000 10",
		"training_data/14998_MV_2.tsv":   "0\t1\t1\n1\tx\t2\n",
		"training_data/20000_Phc.wav":    "4000 10",
		"training_data/20001_TV.wav":     "4000 10",
		"training_data/20001_TV.tsv":     strings.ReplaceAll(cycleTSV, "\n", "\r\n"),
		"training_data/20002_TV.wav":     "broken",
		"training_data/20002_TV.tsv":     cycleTSV,
		"training_data/odd name.wav":     "4000 10",
		"training_data/odd name.tsv":     cycleTSV,
		"training_data/30000_AV.tsv":     "0\t0\t28",
		"training_data/.hidden_AV.wav":   "4000 10",
		"elsewhere/9983_AV.wav":          "4000 10",
		"training_data/notes/readme.tsv": "not an annotation folder\n",
	})
	s := openLayout(t, root, "circor")

	type brief struct {
		ID, Person, Site string
		Take             int
		Reference        string
		Murmur, Height   string
	}
	var got []brief
	for i := range s.Recordings {
		r := &s.Recordings[i]
		got = append(got, brief{r.ID, r.Person, r.Site, r.Take, r.Reference, r.Label("murmur"), r.Label("height_cm")})
	}
	want := []brief{
		{"14998_MV_2", "9983", "MV", 2, "training_data/14998_MV_2.tsv", "Present", ""},
		{"20000_Phc", "20000", "Phc", 1, "", "Present", ""},
		{"20001_TV", "20001", "TV", 1, "training_data/20001_TV.tsv", "Absent", ""},
		{"20002_TV", "20001", "TV", 1, "training_data/20002_TV.tsv", "", ""},
		{"9983_AV", "9983", "AV", 1, "training_data/9983_AV.tsv", "Absent", "98.0"},
		{"odd name", "odd name", "", 1, "training_data/odd name.tsv", "", ""},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("recordings differ:\n%s", diff)
	}

	inv, err := s.Scan(t.Context(), fakeProbe, nil)
	if err != nil {
		t.Fatal(err)
	}
	wantDefects := []string{
		"training_data.csv recording missing from a table",
		"training_data.csv recording missing from a table",
		"training_data.csv:2 id written as a decimal number",
		"training_data.csv:2 person with two ids",
		"training_data.csv:3 not a number",
		"training_data.csv:4 number in a text column",
		"training_data.csv:5 second id named in one row only",
		"training_data.csv:6 row without recording",
		"training_data.csv:7 repeated row",
		"training_data.csv:8 wrong number of columns",
		"training_data/14998_MV_2.tsv:2 not a number",
		"training_data/20000_Phc.wav recording without annotation",
		"training_data/20001_TV.tsv:1 CR LF line ends",
		"training_data/20002_TV.wav unreadable audio",
		"training_data/30000_AV.tsv annotation without recording",
		"training_data/30000_AV.tsv empty annotation",
		"training_data/30000_AV.tsv:1 row of zero length",
		"training_data/odd name.wav file name does not match the layout",
	}
	if diff := cmp.Diff(wantDefects, places(inv.Defects)); diff != "" {
		t.Errorf("defects differ:\n%s", diff)
	}
	if inv.Recordings != 6 || inv.Unusable != 1 || inv.People != 4 || inv.PersonUnknown != 1 || inv.Annotations != 5 || inv.Annotated != 3 {
		t.Errorf("inventory %+v", inv)
	}
	if want := 3 * 0.9; inv.AnnotatedSeconds != want || inv.S1 != 6 || inv.S2 != 3 {
		t.Errorf("annotated %v s, %d S1, %d S2; want %v, 6, 3", inv.AnnotatedSeconds, inv.S1, inv.S2, want)
	}
	if inv.HeartRate == nil || inv.HeartRate.Recordings != 3 || inv.HeartRate.Deciles[4] != 75 {
		t.Errorf("heart rates %+v, want 75 (0.8 s from S1 to S1)", inv.HeartRate)
	}
	if len(s.Warnings) != 2 || !strings.Contains(s.Warnings[0], "1 WAV files match no pattern of the layout and are not read, the first is elsewhere/9983_AV.wav") {
		t.Errorf("warnings %q", s.Warnings)
	}
}

func TestReferenceErrors(t *testing.T) {
	root := plant(t, map[string]string{
		"training_data.csv":         circorHeader + circorRow("1", "nan", "Absent", "nan", "nan"),
		"training_data/1_AV.wav":    "4000 10",
		"training_data/1_AV.tsv":    "0\t0.74\t1\n0.74\t0.61\t2\n",
		"training_data/1_MV.wav":    "4000 10",
		"training_data/1_TV.wav":    "4000 10",
		"training_data/1_TV.tsv":    "0\t1\t1\n0.99\t2\t2\n2\t11\t3\n11\t12\t0\n",
		"training_data/1_Phc_2.wav": "4000 10",
	})
	s := openLayout(t, root, "circor")
	reference := func(id string) (pcg.Reference, error) {
		i := slices.IndexFunc(s.Recordings, func(r pcg.Recording) bool { return r.ID == id })
		ref, _, err := s.Reference(&s.Recordings[i], 4000, 10*second)
		return ref, err
	}
	_, err := reference("1_AV")
	if want := "recording 1_AV: reference annotation unusable: training_data/1_AV.tsv:2: end 0.61 s before start 0.74 s"; !errors.Is(err, ErrUnusable) || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	if _, err := reference("1_MV"); !errors.Is(err, ErrNoReference) {
		t.Errorf("got %v, want no reference", err)
	}
	ref, err := reference("1_TV")
	if err != nil {
		t.Fatal(err)
	}
	wantRepairs := []string{
		"training_data/1_TV.tsv:2: starts 10 ms before the row of line 1 ends at 1 s: the earlier row ends where this one starts",
		"training_data/1_TV.tsv:3: end 11 s is after the end of the recording at 10 s: cut to the recording",
		"training_data/1_TV.tsv:4: start 11 s is after the end of the recording at 10 s: row dropped",
	}
	if diff := cmp.Diff(wantRepairs, ref.Repairs); diff != "" {
		t.Error(diff)
	}
	if got := spans(ref.Intervals); got != "S1 0-990, systole 990-2000, S2 2000-10000" || ref.Kind != pcg.IntervalReference {
		t.Errorf("%s %s", ref.Kind, got)
	}
	if err := os.Remove(filepath.Join(root, "training_data", "1_TV.tsv")); err != nil {
		t.Fatal(err)
	}
	if _, err := reference("1_TV"); !errors.Is(err, ErrUnusable) {
		t.Errorf("after the file went: %v", err)
	}
}

// Reference may be called from several workers.
func TestReferenceFromManyWorkers(t *testing.T) {
	root := plant(t, map[string]string{
		"set_a/normal__201101010101.wav": "44100 3",
		"set_a_timing.csv": "fname,cycle,sound,location\nset_a/normal__201101010101.wav,1,S1,441\n" +
			"set_a/normal__201101010101.wav,1,S2,8820\nset_a/normal__201101010101.wav,2,S1,4410\nset_a/normal__201101010101.wav,2,S2,13230\n",
	})
	s := openLayout(t, root, "pascal")
	want, _, err := s.Reference(&s.Recordings[0], 44100, 3*second)
	if err != nil || len(want.Repairs) != 1 || len(want.Points) != 4 {
		t.Fatalf("%+v, %v", want, err)
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			got, _, err := s.Reference(&s.Recordings[0], 44100, 3*second)
			if err != nil || !cmp.Equal(want, got) {
				t.Errorf("%+v, %v", got, err)
			}
		})
	}
	wg.Wait()
}

// The full download of the challenge has two sets, names that differ between
// table and disk, and unlabelled recordings under two names.
func TestPascalInFull(t *testing.T) {
	root := plant(t, map[string]string{
		"set_a.csv": "dataset,fname,label,sublabel\na,set_a/normal__201101070538.wav,normal,\na,set_a/__201106130440.wav,,\n",
		"set_b.csv": "dataset,fname,label,sublabel\nb,set_b/Btraining_extrastole_127_1306764300147_C2.wav,extrastole,\n" +
			"b,set_b/Btraining_normal_Btraining_noisynormal_101_1305030823364_B.wav,normal,noisynormal\nb,set_b/Bunlabelledtest_103_1305031931979_B.wav,,\n",
		"set_a_timing.csv": "fname,cycle,sound,location\nset_a/normal__201101070538.wav,1,S1,441\n" +
			"set_a/normal__201101070538.wav,1,S2,4410\nset_a/normal__201199999999.wav,1,S1,441\nset_a/normal__201199999999.wav,1,S2,4410\n",
		"set_a/normal__201101070538.wav":                   "44100 3",
		"set_a/Aunlabelledtest__201106130440.wav":          "44100 3",
		"set_b/extrastole__127_1306764300147_C2.wav":       "4000 3",
		"set_b/normal_noisynormal_101_1305030823364_B.wav": "4000 3",
		"set_b/Bunlabelledtest__103_1305031931979_B.wav":   "4000 3",
	})
	s := openLayout(t, root, "pascal")
	var got []string
	for i := range s.Recordings {
		r := &s.Recordings[i]
		got = append(got, strings.Join([]string{r.ID, r.Person, r.Site, r.Label("part"), r.Label("label"), r.Label("sublabel"), r.Reference}, " "))
	}
	want := []string{
		"Aunlabelledtest__201106130440 Aunlabelledtest__201106130440  set_a   ",
		"Bunlabelledtest__103_1305031931979_B 103 B set_b   ",
		"extrastole__127_1306764300147_C2 127 C set_b extrastole  ",
		"normal__201101070538 normal__201101070538  set_a normal  set_a_timing.csv",
		"normal_noisynormal_101_1305030823364_B 101 B set_b normal noisynormal ",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"set_a_timing.csv:4 annotation without recording"}, places(s.Defects)); diff != "" {
		t.Error(diff)
	}
	if s.PersonUnknown != 2 {
		t.Errorf("%d recordings of unknown person, want the 2 of set A", s.PersonUnknown)
	}
}

// The full download repeats training files in a folder of its own; exported
// state annotations lie apart or beside the recordings.
func TestCinc2016InFull(t *testing.T) {
	states := "1,S1\n201,systole\n601,S2\n801,diastole\n1601,S1\n"
	root := plant(t, map[string]string{
		"training-a/a0001.wav":         "2000 30",
		"training-a/a0002.wav":         "2000 30",
		"training-a/REFERENCE.csv":     "a0001,1\na0002,-1\na0003,-1\n",
		"training-a/REFERENCE-SQI.csv": "a0001,1,0\na0002,-1,1\n",
		"training-b/b0001.wav":         "2000 30",
		"training-b/REFERENCE.csv":     "b0001,2\n",
		"training-c/c0001.wav":         "2000 30",
		"validation/a0001.wav":         "2000 30",
		"validation/REFERENCE.csv":     "a0001,1\n",
		"annotations/hand_corrected/training-a_StateAns/a0001_StateAns.mat": "MATLAB",
		"annotations/hand_corrected/training-a_StateAns/a0001_StateAns.csv": states,
		"annotations/hand_corrected/training-a_StateAns/a0009_StateAns.csv": states,
		"training-a/a0001_StateAns.csv":                                     states,
		"training-b/b0001_StateAns.csv":                                     states,
	})
	s := openLayout(t, root, "cinc2016")
	var got []string
	for i := range s.Recordings {
		r := &s.Recordings[i]
		got = append(got, strings.Join([]string{r.ID, r.Label("part"), r.Label("label"), r.Label("quality"), r.Reference}, " "))
	}
	want := []string{
		"a0001 training-a abnormal unsure annotations/hand_corrected/training-a_StateAns/a0001_StateAns.csv",
		"a0002 training-a normal good ",
		"b0001 training-b   training-b/b0001_StateAns.csv",
		"c0001 training-c   ",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	wantDefects := []string{
		"annotations/hand_corrected/training-a_StateAns/a0001_StateAns.mat second annotation",
		"annotations/hand_corrected/training-a_StateAns/a0009_StateAns.csv annotation without recording",
		"training-a/REFERENCE.csv:3 row without recording",
		"training-a/a0001_StateAns.csv second annotation",
		"training-b/REFERENCE.csv:1 unknown code",
		"training-c/REFERENCE.csv missing table",
	}
	if diff := cmp.Diff(wantDefects, places(s.Defects)); diff != "" {
		t.Error(diff)
	}
	if len(s.Warnings) == 0 || s.Warnings[0] != "1 WAV files in **/validation/** are excluded by the layout: repeats recordings of the training sets" {
		t.Errorf("warnings %q", s.Warnings)
	}
	ref, _, err := s.Reference(&s.Recordings[0], 2000, 30*second)
	if err != nil || spans(ref.Intervals) != "S1 0-100, systole 100-300, S2 300-400, diastole 400-800" {
		t.Errorf("%v, %v", ref.Intervals, err)
	}
}

func TestPlain(t *testing.T) {
	root := plant(t, map[string]string{
		"recordings.csv": "recording,person,take,label,extra\nx,7,2,good,1\nsub/x,007,first,nan,2\n",
		"x.wav":          "8000 5",
		"x.csv":          "start_s,end_s,state\n0.5,0.6,S1\n",
		"sub/x.WAV":      "8000 5",
		"sub/x.tsv":      "0.5\t0.6\t3\n",
		"y.wav":          "8000 5",
		"stray.csv":      "0.5,0.6,S1\n",
	})
	s := openLayout(t, root, "plain")
	var got []string
	for _, r := range s.Recordings {
		got = append(got, fmt.Sprint(r.ID, " ", r.Person, " ", r.Take, " ", r.Reference, " ", r.Labels))
	}
	want := []string{"sub/x 007 1 sub/x.tsv label=", "x 7 2 x.csv label=good", "y y 1  label="}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	wantDefects := []string{
		"recordings.csv recording missing from a table",
		"recordings.csv:3 not a number",
		"stray.csv annotation without recording",
	}
	if diff := cmp.Diff(wantDefects, places(s.Defects)); diff != "" {
		t.Error(diff)
	}
	if s.PersonUnknown != 1 {
		t.Errorf("%d recordings of unknown person, want 1", s.PersonUnknown)
	}
}

// Links that lead out of the data root are refused, whatever they are to.
func TestLinks(t *testing.T) {
	outside := plant(t, map[string]string{"secret.wav": "8000 5", "secret.csv": "0,1,S1\n"})
	root := plant(t, map[string]string{"x.wav": "8000 5", "real/y.wav": "8000 5"})
	for link, to := range map[string]string{
		"out.wav":  filepath.Join(outside, "secret.wav"),
		"x.csv":    filepath.Join(outside, "secret.csv"),
		"gone.wav": "nowhere.wav",
		"up.wav":   "../" + filepath.Base(outside) + "/secret.wav",
		"in.wav":   "real/y.wav",
		"folder":   "real",
	} {
		if err := os.Symlink(to, filepath.Join(root, link)); err != nil {
			t.Skipf("no symbolic links here: %v", err)
		}
	}
	s := openLayout(t, root, "plain")
	var ids []string
	for _, r := range s.Recordings {
		ids = append(ids, r.ID+r.Reference)
	}
	if diff := cmp.Diff([]string{"gone", "in", "out", "real/y", "up", "xx.csv"}, ids); diff != "" {
		t.Error(diff)
	}
	want := []string{
		"folder linked folder not followed",
		"gone.wav link to nothing",
		"out.wav link out of the data root",
		"up.wav link out of the data root",
		"x.csv link out of the data root",
	}
	if diff := cmp.Diff(want, places(s.Defects)); diff != "" {
		t.Error(diff)
	}
	for _, name := range []string{"out.wav", "../x.wav", "/etc/hostname", "real"} {
		if _, err := readFile(s, name); err == nil {
			t.Errorf("ReadFile(%q) read it", name)
		}
	}
	// A link that is turned outwards after the listing is refused as well.
	if err := errors.Join(os.Remove(filepath.Join(root, "x.wav")), os.Symlink(filepath.Join(outside, "secret.wav"), filepath.Join(root, "x.wav"))); err != nil {
		t.Fatal(err)
	}
	if content, err := readFile(s, "x.wav"); err == nil {
		t.Errorf("read %q through a link", content)
	}
}

func TestDuplicateIDs(t *testing.T) {
	root := plant(t, map[string]string{
		"training-a/a0001.wav": "2000 5", "deep/training-a/a0001.wav": "2000 5",
		"training-a/REFERENCE.csv": "a0001,1\n", "deep/training-a/REFERENCE.csv": "a0001,1\n",
	})
	s := openLayout(t, root, "cinc2016")
	if len(s.Recordings) != 2 || s.Recordings[0].Audio != "deep/training-a/a0001.wav" || s.Recordings[0].Unusable != "" {
		t.Fatalf("%+v", s.Recordings)
	}
	if r := s.Recordings[1]; r.ID != "a0001 (training-a/a0001.wav)" || !strings.Contains(r.Unusable, "already belongs to deep/training-a/a0001.wav") {
		t.Errorf("%+v", r)
	}
	if diff := cmp.Diff([]string{"training-a/a0001.wav duplicate id"}, places(s.Defects)); diff != "" {
		t.Error(diff)
	}
}

func TestNoRecordings(t *testing.T) {
	root := plant(t, map[string]string{"down/training_data/1_AV.wav": "", "down/training_data.csv": ""})
	l, err := LoadLayout("circor")
	if err != nil {
		t.Fatal(err)
	}
	for dir, want := range map[string]string{
		root: "give " + filepath.Join(root, "down") + " as data root",
		filepath.Join(root, "down", "training_data"): "give the folder that contains it as data root",
		t.TempDir():                   "none of 0 files matches training_data/*.wav",
		filepath.Join(root, "absent"): "--data",
	} {
		if _, err := Open(dir, l); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Open(%s): %v, want %q", dir, err, want)
		}
	}
}

func TestTableDefects(t *testing.T) {
	for name, c := range map[string]struct {
		table string
		want  []string
	}{
		"no column":   {"Recording,person\nx,1\n", []string{"recordings.csv recording missing from a table", "recordings.csv:1 missing column", "recordings.csv:2 row without recording"}},
		"open quote":  {"recording,person\n\"x,1\n", []string{"recordings.csv recording missing from a table", "recordings.csv:2 unreadable text"}},
		"empty":       {"", []string{"recordings.csv recording missing from a table"}},
		"CRLF":        {"recording,person\r\nx,1\r\n", []string{"recordings.csv:1 CR LF line ends"}},
		"header only": {"recording,person\n", []string{"recordings.csv recording missing from a table"}},
	} {
		s := openLayout(t, plant(t, map[string]string{"x.wav": "8000 5", "recordings.csv": c.table}), "plain")
		if diff := cmp.Diff(c.want, places(s.Defects)); diff != "" {
			t.Errorf("%s:\n%s", name, diff)
		}
	}
}

// The header of a shared table of points may be wrong, or its end unreadable.
func TestSharedTableDefects(t *testing.T) {
	const head = "fname,cycle,sound,location\n"
	const good = "set_a/normal__1.wav,1,S1,441\nset_a/normal__1.wav,1,S2,4410\n"
	for name, c := range map[string]struct {
		table, err string
		want       []string
	}{
		"good":      {head + good, "", nil},
		"CRLF":      {strings.ReplaceAll(head+good, "\n", "\r\n"), "", []string{"set_a_timing.csv:1 CR LF line ends"}},
		"header":    {"file,sound,location\n" + good, "no reference", []string{"set_a_timing.csv:1 missing column"}},
		"cut short": {head + good + "\"set_a\n", "not read to its end", []string{"set_a_timing.csv:4 unreadable text"}},
		"short row": {head + good + "set_a/normal__1.wav,2,S1\n", ":4: 3 columns instead of 4", nil},
		"no name":   {head + good + "\n,,,\n", "", []string{"set_a_timing.csv:5 annotation without recording"}},
	} {
		s := openLayout(t, plant(t, map[string]string{"set_a/normal__1.wav": "44100 5", "set_a_timing.csv": c.table}), "pascal")
		if diff := cmp.Diff(c.want, places(s.Defects)); diff != "" {
			t.Errorf("%s:\n%s", name, diff)
		}
		_, _, err := s.Reference(&s.Recordings[0], 44100, 5*second)
		if c.err == "" && err != nil || c.err != "" && (err == nil || !strings.Contains(err.Error(), c.err)) {
			t.Errorf("%s: %v, want %q", name, err, c.err)
		}
	}
}
