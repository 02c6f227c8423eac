// Command bench measures the speed of phonocycle and compares it with a front end
// of the envelope methods written with SciPy (front_end.py):
//
//	go run ./testdata/bench -data FOLDER [-layout circor] [-rounds 3] [-most 1000] PHONOCYCLE
//
// It prints, as medians over the rounds:
//
//   - wall and processor time of the program and of the script on the same
//     recordings in turn, and their ratios
//   - the speed-up from one worker to two
//   - for each stage and method on one core, the time for one second of audio,
//     and for conv-hsmm the share of it in the products of its network
//   - the time per recording of runs over more and more short synthetic recordings
//
// Without python3-scipy or without the recordings it leaves out that part.
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime/pprof"
	"slices"
	"strconv"
	"strings"
	"time"

	"phonocycle/configs"
	"phonocycle/features"
	"phonocycle/pipeline/audio"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

func main() {
	log.SetFlags(0)
	data := flag.String("data", "", "folder of the recordings; without it they are left out")
	layout := flag.String("layout", "circor", "layout of the folder")
	rounds := flag.Int("rounds", 3, "repetitions of each measurement")
	most := flag.Int("most", 1000, "largest number of synthetic recordings in a run")
	flag.Parse()
	if flag.NArg() != 1 {
		log.Fatal("bench: give the path of the phonocycle program")
	}
	dir, err := os.MkdirTemp("", "phonocycle-bench")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(dir)
	b := bench{program: flag.Arg(0), dir: dir, rounds: *rounds}
	if *data == "" {
		fmt.Println("no -data: only synthetic recordings are measured")
	} else if err := b.recordings(*data, *layout); err != nil {
		log.Fatal("bench: ", err)
	}
	if err := b.scale(*most); err != nil {
		log.Fatal("bench: ", err)
	}
}

type bench struct {
	program, dir string
	rounds       int
}

// cost is the time that a process took, in seconds.
type cost struct{ wall, processor float64 }

func (c cost) String() string {
	return fmt.Sprintf("%7.2f s wall %7.2f s processor", c.wall, c.processor)
}

// run runs a command and returns its cost and what it printed.
func run(name string, args ...string) (cost, []byte, error) {
	cmd := exec.Command(name, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	cmd.Env = append(os.Environ(), "OMP_NUM_THREADS=1", "OPENBLAS_NUM_THREADS=1")
	start := time.Now()
	if err := cmd.Run(); err != nil {
		return cost{}, nil, fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, errs.Bytes())
	}
	wall := time.Since(start).Seconds()
	s := cmd.ProcessState
	return cost{wall, (s.UserTime() + s.SystemTime()).Seconds()}, out.Bytes(), nil
}

// wholeRun runs the program over a data set into a new folder.
func (b *bench) wholeRun(data, layout, method string, workers int) (cost, error) {
	out := filepath.Join(b.dir, "out")
	defer os.RemoveAll(out)
	c, _, err := run(b.program, "run", "--data", data, "--layout", layout, "--method", method, "--out", out, "--workers", strconv.Itoa(workers), "--training-overlap", "leave-out")
	return c, err
}

// median returns the medians of both times.
func median(costs []cost) cost {
	pick := func(of func(cost) float64) float64 {
		var x []float64
		for _, c := range costs {
			x = append(x, of(c))
		}
		slices.Sort(x)
		return x[len(x)/2]
	}
	return cost{pick(func(c cost) float64 { return c.wall }), pick(func(c cost) float64 { return c.processor })}
}

// recordings measures on the recordings of a data set.
func (b *bench) recordings(data, layout string) error {
	l, err := dataset.LoadLayout(layout)
	if err != nil {
		return err
	}
	set, err := dataset.Open(data, l)
	if err != nil {
		return err
	}
	defer set.Close()
	if err := b.compareWithSciPy(set, data, layout); err != nil {
		return err
	}
	return stages(set)
}

// interpreter returns a python3 that has SciPy. It prefers that of Debian.
func interpreter() string {
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if _, _, err := run(name, "-c", "import scipy.signal"); err == nil {
			return name
		}
	}
	return ""
}

// compareWithSciPy runs the script and the program in turn.
func (b *bench) compareWithSciPy(set *dataset.Set, data, layout string) error {
	python := interpreter()
	if python == "" {
		fmt.Println("no python3 with scipy (Debian: python3-scipy): nothing to compare whole runs with")
	}
	list := filepath.Join(b.dir, "list")
	var paths strings.Builder
	for _, r := range set.Recordings {
		fmt.Fprintln(&paths, filepath.Join(data, filepath.FromSlash(r.Audio)))
	}
	if err := os.WriteFile(list, []byte(paths.String()), 0o644); err != nil {
		return err
	}
	methods := []string{"logistic-hsmm", "duration-hmm", "conv-hsmm", "shannon-peaks"}
	const scipy, oneWorker = "SciPy front end", "logistic-hsmm, one worker"
	costs := map[string][]cost{}
	for range b.rounds {
		if python != "" {
			c, out, err := run(python, "testdata/bench/front_end.py", "--jobs", "2", "--list", list)
			if err != nil {
				return err
			}
			var work struct {
				Work float64 `json:"work_s"`
			}
			if err := json.Unmarshal(out, &work); err != nil {
				return err
			}
			costs[scipy] = append(costs[scipy], cost{work.Work, c.processor}) // wall time without imports
		}
		for _, m := range methods {
			c, err := b.wholeRun(data, layout, m, 2)
			if err != nil {
				return err
			}
			costs[m] = append(costs[m], c)
		}
		c, err := b.wholeRun(data, layout, methods[0], 1)
		if err != nil {
			return err
		}
		costs[oneWorker] = append(costs[oneWorker], c)
	}
	fmt.Printf("whole runs over %d recordings, two workers, medians of %d\n", len(set.Recordings), b.rounds)
	for _, name := range append([]string{scipy, oneWorker}, methods...) {
		if len(costs[name]) == 0 {
			continue
		}
		c := median(costs[name])
		fmt.Printf("  %-26s %v", name, c)
		if python != "" && name != scipy {
			s := median(costs[scipy])
			fmt.Printf("   SciPy takes %.2f times the wall time, %.2f times the processor time", s.wall/c.wall, s.processor/c.processor)
		}
		fmt.Println()
	}
	fmt.Printf("  from one worker to two: %.2f times as fast\n", median(costs[oneWorker]).wall/median(costs[methods[0]]).wall)
	return nil
}

// maxStageRecordings limits the recordings on which stages are timed.
const maxStageRecordings = 100

// input is a recording as features see it, with its samples at the analysis rate.
type input struct {
	x []float64
	features.Input
}

// stages times each stage on one core, all on the same recordings.
func stages(set *dataset.Set) error {
	var d audio.Decoder
	r := audio.NewResampler(signal.AnalysisRate)
	var in []input
	wave := signal.NewWaveform(nil)
	var seconds float64
	var decode, resample time.Duration
	for _, rec := range set.Recordings[:min(len(set.Recordings), maxStageRecordings)] {
		file, err := set.OpenFile(rec.Audio)
		if err != nil {
			return err
		}
		content, err := io.ReadAll(file)
		file.Close()
		if err != nil {
			return err
		}
		start := time.Now()
		clip, err := d.Decode(bytes.NewReader(content))
		if err != nil {
			return err
		}
		decode += time.Since(start)
		start = time.Now()
		x := r.Resample(nil, clip.Samples, clip.Rate)
		resample += time.Since(start)
		seconds += clip.Duration().Seconds()
		in = append(in, input{x, features.Input{Raw: slices.Clone(clip.Samples), RawRate: clip.Rate, Wave: wave}})
	}
	fmt.Printf("stages, one core, %d recordings, %.0f s in total\n", len(in), seconds)
	print := func(name string, took time.Duration) {
		fmt.Printf("  %-26s %8.1f µs per second of audio, %7.0f times real time\n", name, took.Seconds()/seconds*1e6, seconds/took.Seconds())
	}
	print("decode", decode)
	print("resample to 1 kHz", resample)
	for _, m := range segment.Methods() {
		if err := timeMethod(m, in, print); err != nil {
			return err
		}
	}
	extractor := features.NewExtractor()
	start := time.Now()
	for i := range in {
		wave.Set(in[i].x)
		if _, err := extractor.Extract(in[i].Input); err != nil {
			return err
		}
	}
	print("features", time.Since(start))
	return nil
}

// timeMethod times a method and stores its intervals in the inputs.
func timeMethod(m segment.Method, in []input, print func(string, time.Duration)) error {
	var model []byte
	if m.Fit != nil {
		var err error
		if model, err = configs.FS.ReadFile("models/" + m.Name + ".json"); err != nil {
			return err
		}
	}
	s, err := m.New(m.Defaults(), model)
	if err != nil {
		return err
	}
	var profile bytes.Buffer
	if err := pprof.StartCPUProfile(&profile); err != nil {
		return err
	}
	start := time.Now()
	for i := range in {
		in[i].Wave.Set(in[i].x)
		seg, err := s.Segment(context.Background(), &segment.Input{Waveform: in[i].Wave})
		if err != nil {
			return err
		}
		in[i].Intervals = within(seg.Intervals, in[i])
	}
	took := time.Since(start)
	pprof.StopCPUProfile()
	print(m.Name, took)
	if m.Name == "conv-hsmm" {
		fmt.Printf("    of this in the products of its network %s\n", matrixShare(profile.Bytes()))
	}
	return nil
}

// within ends the last interval at the end of the recording.
func within(intervals []pcg.Interval, in input) []pcg.Interval {
	end := pcg.FromSamples(int64(len(in.Raw)), in.RawRate)
	if n := len(intervals); n > 0 {
		intervals[n-1].End = min(intervals[n-1].End, end)
	}
	return intervals
}

// matrixShare returns the share of the samples of a profile that the profiler
// counts in the products of the network.
func matrixShare(profile []byte) string {
	f, err := os.CreateTemp("", "profile")
	if err != nil {
		return err.Error()
	}
	defer os.Remove(f.Name())
	if _, err := f.Write(profile); err != nil {
		return err.Error()
	}
	f.Close()
	_, out, err := run("go", "tool", "pprof", "-top", "-cum", "-nodecount=100", f.Name())
	if err != nil {
		return err.Error()
	}
	line := regexp.MustCompile(`([0-9.]+%)\s+\S*simd\.SumProducts`).FindSubmatch(out)
	if line == nil {
		return "too little to measure"
	}
	return string(line[1])
}

// scale measures the time per recording for runs of growing size.
func (b *bench) scale(most int) error {
	fmt.Println("whole runs over synthetic recordings of 3 s, duration-hmm, two workers")
	for n := 100; n <= most; n *= 10 {
		data := filepath.Join(b.dir, strconv.Itoa(n))
		if _, _, err := run(b.program, "synth", "--many", strconv.Itoa(n), "--length", "3s", "--out", data); err != nil {
			return err
		}
		layout, err := filepath.Glob(filepath.Join(data, "*.yaml"))
		if err != nil || len(layout) != 1 {
			return fmt.Errorf("no layout in %s", data)
		}
		c, err := b.wholeRun(data, layout[0], "duration-hmm", 2)
		if err != nil {
			return err
		}
		fmt.Printf("  %7d recordings %v   %.2f ms of processor time per recording\n", n, c, 1e3*c.processor/float64(n))
		if err := os.RemoveAll(data); err != nil {
			return err
		}
	}
	return nil
}
