// Command mutate changes a package in one small place at a time and reports the
// changes that its tests do not notice:
//
//	go run ./testdata/mutate [-n 100] [-seed 1] [-tests "./eval ./pipeline"] ./eval
//
// Of all mutations of the package (mutations.go) it draws some by the seed. Each is
// written to a temporary file, which go test reads in the place of the original
// (-overlay); nothing in the source tree changes. Those that do not compile are not
// counted.
//
// A mutation that no test notices has survived. It shows a missing test, or it is
// equivalent: it changes nothing that can be seen, as < for <= where both sides are
// never equal, a capacity, or a guard that only saves time. Which of the two it is
// must be judged by reading; a share of survivors is therefore an upper bound. A
// mutation after which the tests do not end counts as noticed.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"
)

func main() {
	log.SetFlags(0)
	n := flag.Int("n", 100, "number of mutations that compile")
	seed := flag.Uint64("seed", 1, "seed of the draw")
	tests := flag.String("tests", "", "packages whose tests are run, separated by spaces (default: the package alone)")
	most := flag.Duration("time", time.Hour, "begin no mutation after this time")
	jobs := flag.Int("jobs", runtime.GOMAXPROCS(0), "mutations tested at the same time")
	flag.Parse()
	if flag.NArg() != 1 || *n < 1 || *jobs < 1 {
		log.Fatal("usage: mutate [-n 100] [-seed 1] [-tests PACKAGES] [-time 1h] [-jobs N] PACKAGE")
	}
	packages := strings.Fields(*tests)
	if len(packages) == 0 {
		packages = []string{flag.Arg(0)}
	}
	if err := mutate(os.Stdout, flag.Arg(0), packages, *n, *seed, *most, *jobs); err != nil {
		log.Fatal(err)
	}
}

// mutate tests n mutations of a package and prints the survivors as it meets them.
func mutate(w io.Writer, target string, packages []string, n int, seed uint64, most time.Duration, jobs int) error {
	list, err := packageMutations(target)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return fmt.Errorf("%s: nothing to change", target)
	}
	folder, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)

	// Once without a change: the tests must pass, and the time they take limits the
	// others.
	start := time.Now()
	if output, err := goTest(packages, "", 10*time.Minute); err != nil {
		return fmt.Errorf("the tests fail without any change: %w\n%s", err, output)
	}
	limit := 10*time.Since(start) + 20*time.Second

	random := rand.New(rand.NewPCG(seed, 0))
	random.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	d := draw{w: w, list: list, results: make([]outcome, len(list)), most: n, end: start.Add(most)}
	var wait sync.WaitGroup
	for job := range jobs {
		wait.Go(func() {
			overlay := filepath.Join(folder, fmt.Sprint(job))
			for i := d.next(); i >= 0; i = d.next() {
				result, err := list[i].test(packages, overlay, limit)
				d.put(i, result, err)
			}
		})
	}
	wait.Wait()
	d.report(target, time.Since(start))
	return d.failure
}

// An outcome says what the tests made of a mutation.
type outcome int

const (
	untested outcome = iota
	noticed
	survived
	notCompiled
)

// A draw hands out mutations in the order of the shuffled list, until enough of
// them compile.
type draw struct {
	sync.Mutex
	w       io.Writer
	list    []mutation
	results []outcome
	begun   int
	most    int
	end     time.Time // no mutation begins later
	failure error
}

// next returns the index of a mutation to test, or -1.
func (d *draw) next() int {
	d.Lock()
	defer d.Unlock()
	compiled := d.begun // those under test may yet compile
	for _, r := range d.results[:d.begun] {
		if r == notCompiled {
			compiled--
		}
	}
	if compiled >= d.most || d.begun == len(d.list) || d.failure != nil || time.Now().After(d.end) {
		return -1
	}
	d.begun++
	return d.begun - 1
}

func (d *draw) put(i int, r outcome, err error) {
	d.Lock()
	defer d.Unlock()
	d.results[i] = r
	if r == survived {
		fmt.Fprintln(d.w, d.list[i])
	}
	if err != nil {
		d.failure = err
	}
}

func (d *draw) report(target string, took time.Duration) {
	var counts [notCompiled + 1]int
	for _, r := range d.results {
		counts[r]++
	}
	compiled := counts[noticed] + counts[survived]
	fmt.Fprintf(d.w, "%s: %d of %d mutations survived (%.0f %%); %d more did not compile; %d in the package; %.0f s\n",
		target, counts[survived], compiled, 100*float64(counts[survived])/float64(max(compiled, 1)), counts[notCompiled], len(d.list), took.Seconds())
}

// test runs the tests with the mutation in the place of the original.
func (m *mutation) test(packages []string, overlay string, limit time.Duration) (outcome, error) {
	changed, list := overlay+".go", overlay+".json"
	content, err := json.Marshal(map[string]map[string]string{"Replace": {m.file: changed}})
	if err == nil {
		err = os.WriteFile(list, content, 0o600)
	}
	if err == nil {
		err = os.WriteFile(changed, m.apply(), 0o600)
	}
	if err != nil {
		return untested, err
	}
	output, err := goTest(packages, list, limit)
	switch {
	case err == nil:
		return survived, nil
	case bytes.Contains(output, []byte("[build failed]")) || bytes.Contains(output, []byte("[setup failed]")):
		return notCompiled, nil
	}
	return noticed, nil
}

// goTest runs the tests of packages. Simulations of several seconds are left out,
// as they prove no more about one small change than the quick tests beside them.
func goTest(packages []string, overlay string, limit time.Duration) ([]byte, error) {
	args := []string{"test", "-short", "-failfast", "-count=1", "-vet=off", "-timeout=" + limit.String()}
	if overlay != "" {
		args = append(args, "-overlay="+overlay)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*limit)
	defer cancel()
	c := exec.CommandContext(ctx, "go", append(args, packages...)...)
	c.WaitDelay = time.Second
	return c.CombinedOutput()
}
