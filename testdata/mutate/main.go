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
	"cmp"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"log"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
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
	flag.Parse()
	if flag.NArg() != 1 || *n < 1 {
		log.Fatal("usage: mutate [-n 100] [-seed 1] [-tests PACKAGES] PACKAGE")
	}
	packages := strings.Fields(*tests)
	if len(packages) == 0 {
		packages = []string{flag.Arg(0)}
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt) // and say what was found so far
	defer stop()
	if err := mutate(ctx, flag.Arg(0), packages, *n, *seed); err != nil {
		log.Fatal(err)
	}
}

// mutate tests n mutations of a package and prints the survivors as it meets them.
func mutate(ctx context.Context, target string, packages []string, n int, seed uint64) error {
	list, err := packageMutations(target)
	if err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)

	// Once without a change: the tests must pass, and the time they take, compiling
	// included, limits that of the others.
	start := time.Now()
	if output, err := goTest(ctx, packages, "", 10*time.Minute); err != nil {
		return fmt.Errorf("the tests fail without any change: %w\n%s", err, output)
	}
	limit := time.Since(start) + 10*time.Second

	random := rand.New(rand.NewPCG(seed, 0))
	random.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	var counts [notCompiled + 1]int
	var next int
	var failure error
	var lock sync.Mutex // of these, and of the output
	var workers sync.WaitGroup
	for worker := range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			lock.Lock()
			defer lock.Unlock()
			for next-counts[notCompiled] < n && next < len(list) && failure == nil { // those begun may yet compile
				m := &list[next]
				next++
				lock.Unlock()
				result, err := m.test(ctx, packages, filepath.Join(folder, fmt.Sprint(worker)), limit)
				lock.Lock()
				if err = cmp.Or(err, ctx.Err()); err != nil {
					failure = err
					return
				}
				counts[result]++
				if result == survived {
					fmt.Println(m)
				}
			}
		})
	}
	workers.Wait()
	compiled := counts[noticed] + counts[survived]
	fmt.Printf("%s: %d of %d mutations survived (%.0f %%); %d more did not compile; %d in the package; %.0f s\n",
		target, counts[survived], compiled, 100*float64(counts[survived])/float64(max(compiled, 1)), counts[notCompiled], len(list), time.Since(start).Seconds())
	return failure
}

// An outcome says what the tests made of a mutation.
type outcome int

const (
	noticed outcome = iota
	survived
	notCompiled
)

// test runs the tests with the mutation in the place of the original.
func (m *mutation) test(ctx context.Context, packages []string, overlay string, limit time.Duration) (outcome, error) {
	changed, list := overlay+".go", overlay+".json"
	content, err := json.Marshal(map[string]map[string]string{"Replace": {m.file: changed}})
	if err == nil {
		err = os.WriteFile(list, content, 0o600)
	}
	if err == nil {
		err = os.WriteFile(changed, m.apply(), 0o600)
	}
	if err != nil {
		return notCompiled, err
	}
	output, err := goTest(ctx, packages, list, limit)
	switch {
	case err == nil:
		return survived, nil
	case bytes.Contains(output, []byte("[build failed]")):
		return notCompiled, nil
	}
	return noticed, nil
}

// goTest runs the tests of packages. Simulations of several seconds are left out,
// as they prove no more about one small change than the quick tests beside them.
// Compiling without optimisation takes half the time.
func goTest(ctx context.Context, packages []string, overlay string, limit time.Duration) ([]byte, error) {
	args := []string{"test", "-short", "-failfast", "-count=1", "-vet=off", "-gcflags=-N -l", "-ldflags=-w", "-timeout=" + limit.String()}
	if overlay != "" {
		args = append(args, "-overlay="+overlay)
	}
	c := exec.CommandContext(ctx, "go", append(args, packages...)...)
	c.Cancel = func() error { return c.Process.Signal(os.Interrupt) } // go test then ends what it has begun
	return c.CombinedOutput()
}
