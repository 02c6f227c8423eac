package setup

import (
	"fmt"
	"runtime"
	"sync/atomic"
	"time"

	"phonocycle/pipeline/cputime"
	"phonocycle/pipeline/rundir"
)

// Spent adds up what a run has spent on fits and on segmenting. Several workers may
// add at once.
type Spent struct{ fitting, fits, segmenting, audio, repeated atomic.Int64 }

// Warnings says what was spent in vain.
func (s *Spent) Warnings() []string {
	if n := s.repeated.Load(); n > 0 {
		return []string{fmt.Sprintf("the program of the method ended or left the protocol after it had answered: %d recordings were given to a new process; what it did then counts, and the starts take time", n)}
	}
	return nil
}

// Fit counts the processor time of the process in which do fits a method. Nothing else
// may run meanwhile.
func (s *Spent) Fit(do func() error) error {
	start := cputime.Process()
	err := do()
	s.fitting.Add(int64(cputime.Process() - start))
	if err == nil {
		s.fits.Add(1)
	}
	return err
}

// segment counts the processor time of the thread in which do segments so much audio.
func (s *Spent) segment(audio time.Duration, do func()) {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	start := cputime.Thread()
	defer func() {
		s.segmenting.Add(int64(cputime.Thread() - start))
		s.audio.Add(int64(audio))
	}()
	do()
}

// AddTo adds what was spent to a cost.
func (s *Spent) AddTo(c *rundir.Cost) {
	seconds := func(n *atomic.Int64) float64 { return time.Duration(n.Load()).Seconds() }
	c.Add(rundir.Cost{
		Fitting: seconds(&s.fitting), Fits: int(s.fits.Load()), Segmenting: seconds(&s.segmenting),
		Audio: time.Duration(s.audio.Load()).Hours(), Clock: cputime.ThreadClock,
	})
}
