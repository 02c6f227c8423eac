package workers

// Progress is told how far a stage is. Its methods are called from one
// goroutine at a time.
type Progress interface {
	Start(stage string, total int) // total is in recordings
	Step(n int)
	Done()
	Note(text string) // how far a fit is, in its own words
}

// Silent is a Progress that does nothing.
type Silent struct{}

func (Silent) Start(string, int) {}
func (Silent) Step(int)          {}
func (Silent) Done()             {}
func (Silent) Note(string)       {}

// OrSilent returns p, or a Progress that does nothing where p is nil.
func OrSilent(p Progress) Progress {
	if p == nil {
		return Silent{}
	}
	return p
}
