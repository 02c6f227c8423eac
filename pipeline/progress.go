package pipeline

// Progress is told how far a stage has come. Its methods are called from one
// goroutine at a time. A nil Progress is told nothing.
type Progress interface {
	Start(stage string, total int) // total is in recordings
	Step(n int)
	Done()
	Note(text string) // how far a fit is, in its own words
}

// silent is the Progress of those who do not watch.
type silent struct{}

func (silent) Start(string, int) {}
func (silent) Step(int)          {}
func (silent) Done()             {}
func (silent) Note(string)       {}

func orSilent(p Progress) Progress {
	if p == nil {
		return silent{}
	}
	return p
}
