package main

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The commands that write what the tests damage, in parts of three
// recordings.
const (
	runFirst   = "run --data many --layout many/many.yaml --resamples 20 --part-size 3 --method shannon-peaks --out first"
	runSecond  = "run --data many --layout many/many.yaml --resamples 20 --part-size 3 --method duration-hmm --out second"
	cutWindows = "windows --data many --layout many/many.yaml --states first --length 100ms --out windows"
)

// writeRuns writes results to the folders first, second and windows of a new
// working folder.
func writeRuns(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	for _, command := range []string{"synth --many 6 --length 3s --out many", runFirst, runSecond, cutWindows} {
		if status, _, stderr := call(t, strings.Fields(command)...); status != 0 {
			t.Fatalf("%s: status %d, %s", command, status, stderr)
		}
	}
}

// readersOf are the commands that read a table.
var readersOf = map[string][]string{
	"first/recordings": {
		"csv --table first/recordings", "partition --table first/recordings --out new", runFirst + " --resume", "merge --out first",
		"score --states first --out new", "compare --results second --results first", "audit --results first",
		"report --results first --out new", "leakage --tables first --by site",
		"extract --data many --layout many/many.yaml --states first --out new",
	},
	"first/states": {
		"csv --table first/states", runFirst + " --resume", "merge --out first", "score --states first --out new",
		"compare --results first --results second", "audit --results first", "report --results first --out new",
		"windows --data many --layout many/many.yaml --states first --out new",
		"score --predictions first --data many --layout many/many.yaml --out new",
	},
	"first/cycles": {
		"csv --table first/cycles", "partition --table first/cycles --out new", runFirst + " --resume", "merge --out first",
	},
	"first/people":       {"csv --table first/people", "partition --table first/people --out new"},
	"first/matches":      {"csv --table first/matches"},
	"first/scores":       {"csv --table first/scores"},
	"windows/recordings": {"csv --table windows/recordings", cutWindows + " --resume", "merge --out windows"},
	"windows/windows": {
		"csv --table windows/windows", "partition --table windows/windows --out new", cutWindows + " --resume", "merge --out windows",
	},
}

// refuses runs a command that reads the file at path, which is damaged, and
// reports whether it refuses it with the name and the remedy.
func refuses(t *testing.T, command, path string) bool {
	t.Helper()
	status, _, stderr := call(t, strings.Fields(command)...)
	if err := os.RemoveAll("new"); err != nil {
		t.Fatal(err)
	}
	if status == 1 && (!strings.Contains(stderr, path) || !strings.Contains(stderr, "with --resume")) {
		t.Errorf("%s: the message lacks %s or the remedy: %s", command, path, stderr)
	}
	return status == 1
}

// Tables that are not as a run wrote them are refused by every command that reads
// them.
func TestDamagedTables(t *testing.T) {
	writeRuns(t)
	t.Run("flipped bits", flipBits)
	t.Run("parts of two runs", mixRuns)
}

// flipBits holds that every command refuses a table with a flipped bit, and names
// the file and the remedy. PHONOCYCLE_FLIPS sets how many bits are flipped over
// all tables.
func flipBits(t *testing.T) {
	flips := 60
	if s := os.Getenv("PHONOCYCLE_FLIPS"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil {
			t.Fatalf("PHONOCYCLE_FLIPS: %v", err)
		}
		flips = n
	}
	contents, total := map[string][]byte{}, 0
	for dir := range readersOf {
		paths, err := filepath.Glob(dir + "/*.parquet")
		if err != nil || len(paths) == 0 {
			t.Fatalf("no files in %s: %v", dir, err)
		}
		for _, path := range paths {
			content, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			contents[path] = content
			total += len(content)
		}
	}
	rng := rand.New(rand.NewPCG(13, 3))
	flipped, tried, accepted := 0, map[string]int{}, map[string]int{}
	for _, path := range slices.Sorted(maps.Keys(contents)) {
		content, dir := contents[path], filepath.Dir(path)
		commands := readersOf[dir]
		// Half of the flips by size, half the same number for each file; a third of
		// all in the last bytes, where the digest stands.
		for range flips*len(content)/total/2 + flips/len(contents)/2 + 1 {
			at, bit := rng.IntN(len(content)), rng.IntN(8)
			if flipped%3 == 0 {
				at = len(content) - 1 - rng.IntN(300)
			}
			damaged := bytes.Clone(content)
			damaged[at] ^= 1 << bit
			if err := os.WriteFile(path, damaged, 0o644); err != nil {
				t.Fatal(err)
			}
			command := commands[tried[dir]%len(commands)]
			tried[dir]++
			flipped++
			if !refuses(t, command, path) {
				accepted[dir]++
				t.Errorf("%s accepts %s with bit %d of byte %d flipped", command, path, bit, at)
			}
		}
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d bits flipped in %d files, by table %v; accepted: %v", flipped, len(contents), tried, accepted)
}

// mixRuns holds that a part of which one file comes from another run, even of the
// same plan, is refused by every command that reads it, and that a part that lacks
// a file is made again.
func mixRuns(t *testing.T) {
	copyFile := func(from, to string) {
		t.Helper()
		content, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		writeFile(t, to, string(content))
	}
	rename := func(from, to string) {
		t.Helper()
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	// The third run has the plan of the first, but other audio.
	const audio = "many/recordings/p000001_aortic.wav"
	rename("first", "kept")
	copyFile(audio, "audio")
	copyFile("many/recordings/p000001_mitral.wav", audio)
	if status, _, stderr := call(t, strings.Fields(runFirst)...); status != 0 {
		t.Fatal(stderr)
	}
	copyFile("audio", audio)
	rename("first", "third")
	rename("kept", "first")
	first, _ := os.ReadFile("first/plan.json")
	if third, err := os.ReadFile("third/plan.json"); err != nil || !bytes.Equal(first, third) {
		t.Fatalf("the third run has another plan than the first: %v", err)
	}

	const part = "/part-000000.parquet"
	for _, table := range []string{"first/states", "first/cycles"} {
		copyFile(table+part, "whole")
		for _, other := range []string{"second", "third"} {
			copyFile(other+"/"+filepath.Base(table)+part, table+part)
			for _, command := range readersOf[table] {
				if strings.HasPrefix(command, "score --predictions") {
					continue // which takes any file of states
				}
				if !refuses(t, command, table+part) {
					t.Errorf("%s accepts %s of the %s run", command, table+part, other)
				}
			}
		}
		if err := os.Remove(table + part); err != nil {
			t.Fatal(err)
		}
		if status, _, stderr := call(t, strings.Fields(runFirst+" --resume")...); status != 0 {
			t.Error(stderr)
		}
		want, _ := os.ReadFile("whole")
		if got, _ := os.ReadFile(table + part); !bytes.Equal(want, got) {
			t.Errorf("without %s, --resume made a file of %d bytes, want the same %d", table+part, len(got), len(want))
		}
	}
}
