package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/pflag"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/synth"
)

// TestShownCommandsRun runs every command that README.md and the help texts
// show, in the order in which they stand, in a folder with synthetic data sets
// under the names of the real ones.
func TestShownCommandsRun(t *testing.T) {
	readme := readReadme(t)
	t.Chdir(t.TempDir())
	writeDataSets(t)
	writeFile(t, "theirs.yaml", blockOf(t, readme, "kind: intervals"))
	writeFile(t, "noise.yaml", blockOf(t, readme, "title: Two methods in noise"))
	for _, language := range []string{"yaml", "python"} {
		name, text := methodOf(t, readme, language)
		writeFile(t, name, text)
	}
	if why := withoutSciPy(t); why != "" {
		t.Log("without the method in Python:", why)
		readme = regexp.MustCompile(`(?m)^.*cv-pairs.*$`).ReplaceAllString(readme, "")
	}
	readme = strings.ReplaceAll(readme, "--out cv-pairs", "--out cv-pairs --folds 2") // a program starts for each
	s := session{}
	checkDemo(t, s.run(t, "make demo", []string{"demo"}))
	s.run(t, "README.md", shownCommands(readme))
	for _, c := range newRoot().Commands() {
		s.run(t, c.Name()+" --help", shownCommands(c.Example))
	}
}

// checkDemo checks what the demo printed and wrote, and that a second demo does
// not overwrite it.
func checkDemo(t *testing.T, printed string) {
	t.Helper()
	for _, want := range []string{"Recall", "Precision", "F1", "60 ms", "summary.json", "licensed practitioners", "failed"} {
		if !strings.Contains(printed, want) {
			t.Errorf("the demo does not print %q:\n%s", want, printed)
		}
	}
	for _, name := range []string{"recordings", "states", "cycles", "people", "matches", "scores", "summary.json", "manifest.json", "plan.json"} {
		if _, err := os.Stat(filepath.Join("demo-out", "results", name)); err != nil {
			t.Error(err)
		}
	}
	report, teaching := filepath.Join("demo-out", "report.html"), filepath.Join("demo-out", "heart-sounds.html")
	if last := "\nOpen in a browser:\n  " + report + "\n  " + teaching + "\n"; !strings.HasSuffix(printed, last) {
		t.Errorf("the demo does not end with %q", last)
	}
	for path, title := range map[string]string{report: "<title>", teaching: "<title>Heart sounds of recordings af01_mitral, af04_aortic and af09_tricuspid</title>"} {
		if content, err := os.ReadFile(path); err != nil || !strings.Contains(string(content), title) {
			t.Errorf("%s: %v, want a page with %q", path, err, title)
		}
	}
	if status, _, stderr := call(t, "demo"); status != 1 || !strings.Contains(stderr, "--out") {
		t.Errorf("a second demo in the same folder: status %d, %q", status, stderr)
	}
}

// TestNamedFlagsExist looks up the flags that README.md and the help texts name.
func TestNamedFlagsExist(t *testing.T) {
	flag := regexp.MustCompile(`(?:^|[\s(\x60])--([a-z][a-z0-9-]*)`)
	all := pflag.NewFlagSet("all commands", pflag.ContinueOnError)
	check := func(where, text string, flags *pflag.FlagSet) {
		for _, m := range flag.FindAllStringSubmatch(text, -1) {
			if flags.Lookup(m[1]) == nil && m[1] != "help" {
				t.Errorf("%s: no such flag: --%s", where, m[1])
			}
		}
	}
	for _, c := range newRoot().Commands() {
		all.AddFlagSet(c.Flags())
	}
	for _, c := range newRoot().Commands() {
		flags := c.Flags()
		if slices.Contains([]string{"fit", "csv", "choose"}, c.Name()) {
			flags = all // its text names flags of commands that read what it writes
		}
		check(c.Name()+" --help", c.Long+flags.FlagUsages(), flags)
	}
	check("README.md", readReadme(t), all)
}

func readReadme(t *testing.T) string {
	t.Helper()
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	return string(readme)
}

// shownCommands returns the indented lines of a text that begin with
// phonocycle, without that word.
func shownCommands(text string) []string {
	var commands []string
	text = strings.ReplaceAll(text, "\\\n", "")
	for _, line := range regexp.MustCompile(`(?m)^ {2,}phonocycle +(\S.*)$`).FindAllStringSubmatch(text, -1) {
		commands = append(commands, strings.Join(strings.Fields(line[1]), " "))
	}
	return commands
}

// blockOf returns the indented block of a text that begins with a line.
func blockOf(t *testing.T, text, first string) string {
	t.Helper()
	_, rest, found := strings.Cut(text, "\n    "+first+"\n")
	if !found {
		t.Fatalf("README.md has no block that begins with %q", first)
	}
	block := first + "\n"
	for line := range strings.Lines(rest) {
		code, indented := strings.CutPrefix(line, "    ")
		if !indented {
			break
		}
		block += code
	}
	return block
}

// session runs the commands of one text after another and remembers them.
type session map[string]bool

// run runs the commands of one text, except those that an earlier text showed
// too. It first removes the output folders of earlier texts that these commands
// write again. It returns what they print.
func (s session) run(t *testing.T, where string, commands []string) string {
	t.Helper()
	commands = slices.DeleteFunc(commands, func(command string) bool { return s[command] })
	for _, command := range commands {
		s[command] = true
		args := strings.Fields(command)
		if i := slices.Index(args, "--out"); i >= 0 {
			if err := os.RemoveAll(args[i+1]); err != nil {
				t.Fatal(err)
			}
		}
	}
	var all strings.Builder
	for _, command := range commands {
		command, to, redirected := strings.Cut(strings.ReplaceAll(command, "'", ""), " > ") // no word has a space
		status, stdout, stderr := call(t, strings.Fields(command)...)
		asPlanned := status == 0 || status == 3 && strings.Contains(command, "screening.yaml") // some of these fail on purpose
		if !asPlanned || stdout == "" {
			t.Fatalf("%s: phonocycle %s: exit status %d\n%s%s", where, command, status, stdout, stderr)
		}
		if redirected {
			writeFile(t, to, stdout)
		}
		all.WriteString(stdout)
	}
	return all.String()
}

// writeDataSets writes small synthetic data sets to the folders circor, pascal,
// cinc2016 and other, as their layouts describe them, and to theirs.csv what
// another program made of the first.
func writeDataSets(t *testing.T) {
	t.Helper()
	const people = 14 // five folds leave at least ten to fit to
	columns := "Patient ID,Murmur,Age,Sex,Height,Weight,Pregnancy status,Murmur locations,Most audible location," +
		"Systolic murmur timing,Systolic murmur shape,Systolic murmur grading,Systolic murmur pitch,Systolic murmur quality," +
		"Diastolic murmur timing,Diastolic murmur shape,Diastolic murmur grading,Diastolic murmur pitch,Diastolic murmur quality," +
		"Campaign,Additional ID"
	circor := columns + "\n"
	theirs := "recording,onset,offset,label\n"
	pascal := "dataset,fname,label,sublabel\n"
	timing := "fname,cycle,sound,location\n"
	cinc := map[string]string{}
	for i := range people {
		person, part := fmt.Sprint(1000+i), string("ab"[i%2])
		site, set, challenge := person+"_MV", fmt.Sprintf("set_a/normal__2011%08d.wav", i), fmt.Sprintf("%s%04d", part, i)
		states := writeHeart(t, i,
			"circor/training_data/"+site+".wav", "pascal/"+set, "cinc2016/training-"+part+"/"+challenge+".wav")
		circor += person + ",Absent,Child,Female" + strings.Repeat(",nan", strings.Count(columns, ",")-3) + "\n"
		pascal += "a," + set + ",normal,\n"
		cinc[part] += challenge + ",-1\n"
		tsv := ""
		for _, v := range states {
			start, end := v.Start.Seconds(), v.End.Seconds()
			tsv += fmt.Sprintf("%.4f\t%.4f\t%d\n", start, end, v.State)
			theirs += fmt.Sprintf("%s,%.3f,%.3f,%s\n", site, start, end, theirStates[v.State])
			if v.State == pcg.S1 || v.State == pcg.S2 {
				timing += fmt.Sprintf("%s,1,%v,%.0f\n", set, v.State, (start+end)/2*samplingRate)
			}
		}
		writeFile(t, "circor/training_data/"+site+".tsv", tsv)
		plain := "start_s,end_s,state\n"
		for _, v := range writeHeart(t, people+i, "other/"+person+".wav") { // of other people: a model knows audio
			plain += fmt.Sprintf("%.4f,%.4f,%v\n", v.Start.Seconds(), v.End.Seconds(), v.State)
		}
		writeFile(t, "other/"+person+".csv", plain)
	}
	writeFile(t, "circor/training_data.csv", circor)
	writeFile(t, "theirs.csv", theirs)
	writeFile(t, "pascal/set_a.csv", pascal)
	writeFile(t, "pascal/set_a_timing.csv", timing)
	for part, reference := range cinc {
		writeFile(t, "cinc2016/training-"+part+"/REFERENCE.csv", reference)
	}
}

// samplingRate is the sampling rate of the recordings in hertz.
const samplingRate = 2000

// theirStates are the words for the states in theirs.yaml.
var theirStates = map[pcg.State]string{pcg.S1: "s1", pcg.Systole: "sys", pcg.S2: "s2", pcg.Diastole: "dia"}

// writeHeart writes a synthetic recording as WAV and returns its true states.
func writeHeart(t *testing.T, seed int, paths ...string) []pcg.Interval {
	t.Helper()
	r, err := synth.Render(synth.NewHeart(float64(80+3*seed), synth.Exercise, uint64(seed)), 3*time.Second, samplingRate, synth.WithNoise(synth.Pink, 20))
	if err != nil {
		t.Fatal(err)
	}
	samples := make([]int16, len(r.Samples))
	for i, x := range r.Samples {
		samples[i] = int16(math.MaxInt16 * x)
	}
	for _, path := range paths {
		writeFile(t, path, string(pcm(samplingRate, samples, uint32(2*len(samples)))))
	}
	return r.Truth
}

func writeFile(t *testing.T, path, content string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		t.Fatal(err)
	}
}
