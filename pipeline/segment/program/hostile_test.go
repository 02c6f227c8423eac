package program

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"phonocycle/pipeline/segment"
)

// The programs of the tests are the test binary itself, with what the program shall do
// as its first argument, where go test puts a flag.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && !strings.HasPrefix(os.Args[1], "-") {
		runProgram(os.Args[1], os.Args[2:])
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// beats is an answer for a recording of 2 s.
const beats = `"intervals":[["S1",0.1,0.2],["S2",0.4,0.5],["S1",0.9,1.0],["S2",1.2,1.3]]`

// programRequest is what the test programs read of a request.
type programRequest struct {
	Recording, Signal, Audio string
	Rate                     int
	Labels                   map[string]string
}

// runProgram does what a test wants of a program.
func runProgram(what string, args []string) {
	notePID()
	requests := bufio.NewScanner(os.Stdin)
	requests.Buffer(nil, 1<<20)
	say := func(r *programRequest, rest string) { fmt.Printf("{\"recording\":%q,%s}\n", r.Recording, rest) }
	if act, ok := atStart[what]; ok {
		act(args)
		return
	}
	for n := 0; requests.Scan(); n++ {
		r := new(programRequest)
		if err := json.Unmarshal(requests.Bytes(), r); err != nil {
			panic(err)
		}
		switch what {
		case "answer":
			rest := beats
			if len(args) > 0 {
				rest = strings.ReplaceAll(args[0], "'", `"`)
			}
			say(r, rest)
		case "write":
			fmt.Println(strings.ReplaceAll(args[0], "'", `"`))
		case "exit-before":
			fmt.Fprintf(os.Stderr, "reading %s\nno licence\x1b[2J found\n", r.Signal)
			os.Exit(3)
		case "exit-during":
			fmt.Printf(`{"recording":%q,"inter`, r.Recording)
			os.Exit(1)
		case "exit-after":
			say(r, beats)
			os.Exit(4)
		case "crash":
			self, err := os.FindProcess(os.Getpid())
			if err != nil {
				panic(err)
			}
			self.Signal(syscall.SIGKILL)
			time.Sleep(time.Minute)
		case "silence":
			fmt.Fprintln(os.Stderr, "waiting for a lock")
			time.Sleep(time.Minute)
		case "close-output":
			os.Stdout.Close()
			time.Sleep(time.Minute)
		case "long-line":
			io.Copy(os.Stdout, io.LimitReader(zeros{}, 100<<20))
			say(r, beats)
		case "twice":
			say(r, beats)
			say(r, beats)
		case "errors-flood":
			io.Copy(os.Stderr, io.LimitReader(zeros{}, 50<<20))
			fmt.Fprintln(os.Stderr, "\nthe end of the flood")
			if len(args) > 0 {
				os.Exit(5)
			}
			say(r, beats)
		case "child-and-answer":
			leaveChild(func(*exec.Cmd) {})
			say(r, beats)
		case "child-and-exit":
			leaveChild(func(*exec.Cmd) {})
			os.Exit(6)
		case "daemon-and-answer":
			leaveChild(detach)
			say(r, beats)
		case "daemon-and-exit":
			leaveChild(detach)
			os.Exit(7)
		case "every-third":
			if n == 2 {
				fmt.Println("no JSON")
				continue
			}
			say(r, beats)
		case "echo":
			describe(r)
		default:
			panic(what)
		}
	}
	if what == "answer" && len(args) > 1 { // does not end with its input
		time.Sleep(time.Minute)
	}
}

// atStart are programs that read no request.
var atStart = map[string]func(args []string){
	"sleep":     func([]string) { time.Sleep(time.Minute) },
	"exit-now":  func([]string) { fmt.Fprintln(os.Stderr, "no module named envelope"); os.Exit(1) },
	"fit":       fitProgram,
	"segmenter": segmentForever,
}

// zeros reads as the digit 0 without end.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '0'
	}
	return len(p), nil
}

// pidsFile lists the processes of a test in its folder.
const pidsFile = "pids"

func notePID() {
	f, err := os.OpenFile(pidsFile, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		panic(err)
	}
	fmt.Fprintln(f, os.Getpid())
	f.Close()
}

// detach makes a command leave the group of its parent, where the system can.
var detach = func(*exec.Cmd) {}

// leaveChild starts a process that holds standard output and error open, and waits until
// it runs.
func leaveChild(prepare func(*exec.Cmd)) {
	child := exec.Command(os.Args[0], "sleep")
	child.Stdout, child.Stderr = os.Stdout, os.Stderr
	prepare(child)
	if err := child.Start(); err != nil {
		panic(err)
	}
	for {
		pids, _ := os.ReadFile(pidsFile)
		if slices.Contains(strings.Fields(string(pids)), strconv.Itoa(child.Process.Pid)) {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

// describe answers with what the request and its signal file hold.
func describe(r *programRequest) {
	content, err := os.ReadFile(r.Signal + r.Audio)
	if err != nil {
		panic(err)
	}
	info, err := os.Stat(os.TempDir())
	if err != nil {
		panic(err)
	}
	folder, err := os.Getwd()
	if err != nil {
		panic(err)
	}
	text, err := json.Marshal(fmt.Sprintf("%d bytes, rate %d, labels %v, mode %v, in its folder %v, args %q",
		len(content), r.Rate, r.Labels, info.Mode(), filepath.Base(folder), os.Args[2:]))
	if err != nil {
		panic(err)
	}
	fmt.Printf("{\"recording\":%q,\"error\":%s}\n", r.Recording, text)
}

// methodFile writes the file of a method whose program does what the words say, and
// returns its path. More are lines of the file.
func methodFile(t testing.TB, words []string, more ...string) string {
	t.Helper()
	command, err := json.Marshal(append([]string{os.Args[0]}, words...))
	if err != nil {
		t.Fatal(err)
	}
	text := "name: test-program\ntitle: a program of a test\nsegment: " + string(command) + "\n"
	if !strings.Contains(strings.Join(more, "\n"), "answers:") {
		text += "answers: intervals\n"
	}
	path := filepath.Join(t.TempDir(), "method.yaml")
	if err := os.WriteFile(path, []byte(text+strings.Join(more, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// newTestSegmenter loads a method and makes a segmenter of it.
func newTestSegmenter(t testing.TB, file string) *segmenter {
	t.Helper()
	m, err := Load(file)
	if err != nil {
		t.Fatal(err)
	}
	s, err := m.New(m.Defaults(), nil)
	if err != nil {
		t.Fatal(err)
	}
	return s.(*segmenter)
}

// testInput returns a recording of 2 s.
func testInput(name string) *segment.Input {
	in := segment.NewInput(make([]float64, 2000))
	in.Recording = name
	return in
}

// checkNothingLeft makes sure that no process of the groups noted in the folder of a
// method lives, and that no private folder is left.
func checkNothingLeft(t *testing.T, file string) {
	t.Helper()
	content, err := os.ReadFile(filepath.Join(filepath.Dir(file), pidsFile))
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	groups := map[int]bool{}
	for _, line := range strings.Fields(string(content)) {
		pid, err := strconv.Atoi(line)
		if err != nil {
			t.Fatal(err)
		}
		groups[pid] = true
	}
	if left := living(t, groups); len(left) > 0 {
		t.Errorf("processes left behind: %v", left)
	}
	if left, _ := filepath.Glob(filepath.Join(os.TempDir(), folderPattern)); len(left) > 0 {
		t.Errorf("folders left behind: %v", left)
	}
}

// living returns the processes of the given groups that are alive, after some time
// for the system to end those that were killed.
func living(t *testing.T, groups map[int]bool) (left []string) {
	t.Helper()
	for range 100 {
		left = nil
		stats, err := filepath.Glob("/proc/[0-9]*/stat")
		if err != nil || len(stats) == 0 {
			t.Skip("no /proc to look for processes in")
		}
		for _, path := range stats {
			content, _ := os.ReadFile(path)
			_, behind, _ := strings.Cut(string(content), ") ") // state, parent, group
			fields := strings.Fields(behind)
			if len(fields) < 3 || fields[0] == "Z" {
				continue
			}
			if group, _ := strconv.Atoi(fields[2]); groups[group] {
				left = append(left, path)
			}
		}
		if len(left) == 0 {
			return nil
		}
		time.Sleep(20 * time.Millisecond)
	}
	return left
}

// segmentForever segments with the method of a file until it is killed.
func segmentForever(args []string) {
	m, err := Load(args[0])
	if err != nil {
		panic(err)
	}
	s, err := m.New(m.Defaults(), nil)
	if err != nil {
		panic(err)
	}
	s.Segment(context.Background(), testInput("a1"))
}

// fitProgram fits: it writes the lines of the examples and the sizes of their files as
// its model. Its arguments are the model, the examples, its options and what it does
// wrong.
func fitProgram(args []string) {
	model, folder, options, what := args[0], args[1], args[2], args[3]
	lines, err := os.ReadFile(filepath.Join(folder, examplesFile))
	if err != nil {
		panic(err)
	}
	text := strings.ReplaceAll(string(lines), filepath.ToSlash(folder), "FOLDER") + options + "\n"
	files, _ := filepath.Glob(filepath.Join(folder, "*.npy"))
	for _, f := range files {
		info, err := os.Stat(f)
		if err != nil {
			panic(err)
		}
		text += fmt.Sprintf("%s %d\n", filepath.Base(f), info.Size())
	}
	fmt.Println("read", len(files), "examples")
	switch what {
	case "no-model":
		return
	case "extension":
		model += ".npz"
	case "empty":
		text = ""
	case "large":
		if err := errors.Join(os.WriteFile(model, nil, 0o600), os.Truncate(model, maxModel+1)); err != nil {
			panic(err)
		}
		return
	case "exit":
		fmt.Fprintln(os.Stderr, "singular matrix")
		os.Exit(2)
	case "hang":
		time.Sleep(time.Minute)
	case "child":
		leaveChild(detach)
	}
	if err := os.WriteFile(model, []byte(text), 0o600); err != nil {
		panic(err)
	}
}
