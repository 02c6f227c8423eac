package pipeline

// Progress is told how far a stage has come. Its methods are called from one
// goroutine. A nil Progress is told nothing.
type Progress interface {
	Start(stage string, total int) // total is in recordings
	Step(n int)
	Done()
}

// silent is the Progress of those who do not watch.
type silent struct{}

func (silent) Start(string, int) {}
func (silent) Step(int)          {}
func (silent) Done()             {}

func orSilent(p Progress) Progress {
	if p == nil {
		return silent{}
	}
	return p
}
