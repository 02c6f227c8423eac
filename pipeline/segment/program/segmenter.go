package program

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
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
	words func(folder string) []string // of the command
	dir   string
	model []byte // nil for a method without one

	process  *process // nil before the first recording and after a fault
	spent    time.Duration
	repeated int   // recordings
	problems error // with ending processes
}

// Segment implements [segment.Segmenter].
//
// A fault of a process that has answered before may come from what it was asked
// before. So the recording is given to a new process, and only what that does
// counts: a result does not depend on which worker has a recording.
func (s *segmenter) Segment(ctx context.Context, in *segment.Input) (pcg.Segmentation, error) {
	used := s.process != nil
	seg, err := s.segment(ctx, in)
	if used && ctx.Err() == nil && errors.As(err, new(*fault)) {
		s.repeated++
		return s.segment(ctx, in)
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

// Repeated returns how many recordings were given to a new process after a fault of one
// that had answered before.
func (s *segmenter) Repeated() int { return s.repeated }
