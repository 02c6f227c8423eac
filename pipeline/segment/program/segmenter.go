package program

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"sync"
	"time"

	"phonocycle/pipeline/pcg"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

// segmenter asks one process of a program for the states of one recording after the
// other. It starts it when it is first needed, and again after a fault.
type segmenter struct {
	inputs
	answerRule
	words  func(folder string) []string // of the command
	dir    string
	model  []byte // nil for a method without one
	health *health

	process  *process // nil before the first recording and after a fault
	spent    time.Duration
	problems error // with ending processes
}

// Segment implements [segment.Segmenter].
//
// A fault of a process that has answered before may come from what it was asked
// before. So the recording is given to a new process, and only what that does
// counts: a result does not depend on which worker has a recording.
func (s *segmenter) Segment(ctx context.Context, in *segment.Input) (pcg.Segmentation, error) {
	if err := s.health.verdict(); err != nil {
		return pcg.Segmentation{}, err
	}
	used := s.process != nil
	seg, err := s.segment(ctx, in)
	if used && ctx.Err() == nil && errors.As(err, new(*fault)) {
		used = false
		seg, err = s.segment(ctx, in)
	}
	if !used && (errors.As(err, new(*fault)) || errors.Is(err, context.DeadlineExceeded)) {
		s.health.failed(err)
	}
	return seg, err
}

// segment gives a recording to the process.
func (s *segmenter) segment(ctx context.Context, in *segment.Input) (seg pcg.Segmentation, err error) {
	if s.process == nil {
		if s.process, err = startProcess(s.words, s.dir, s.model); err != nil {
			return seg, err
		}
	}
	file := filepath.Join(s.process.folder, signalName)
	request, err := s.request(in.Waveform, &in.Source, file)
	if err != nil {
		return seg, err
	}
	line, err := json.Marshal(request)
	if err != nil {
		return seg, err
	}
	if line, err = s.process.ask(ctx, line); err != nil {
		s.end()
		return seg, err
	}
	a, err := decodeAnswer(line, request.Recording)
	if bad := new(fault); errors.As(err, &bad) {
		err = s.process.fault(bad.what)
		s.end()
		return seg, err
	}
	s.health.answered()
	if err != nil {
		return seg, err
	}
	return s.segmentation(a, pcg.FromSamples(int64(len(in.X)), signal.AnalysisRate))
}

// end ends the process, if there is one.
func (s *segmenter) end() {
	if s.process == nil {
		return
	}
	s.problems = errors.Join(s.problems, s.process.close())
	s.spent += s.process.processTime()
	s.process = nil
}

// Close ends the process and all that it has started, and removes its files.
func (s *segmenter) Close() error {
	s.end()
	return s.problems
}

// ProcessTime returns the processor time of the processes that have ended, of all
// after Close.
func (s *segmenter) ProcessTime() time.Duration { return s.spent }

// health is what the segmenters of a method learn about its program. A program that
// has never answered, however often it was started, is not started any more.
type health struct {
	mu    sync.Mutex
	alive bool // has answered
	fails int
	first error
}

// maxFails is the number of processes without an answer after which a program that
// has never answered is given up.
const maxFails = 5

func (h *health) answered() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.alive = true
}

func (h *health) failed(err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.fails++
	if h.first == nil {
		h.first = err
	}
}

// verdict returns the first error of a program that is given up, else nil.
func (h *health) verdict() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.alive && h.fails >= maxFails {
		return h.first
	}
	return nil
}
