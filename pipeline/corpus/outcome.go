package corpus

import (
	"errors"
	"fmt"
	"path"
	"runtime/debug"
	"strings"

	"phonocycle/pipeline/table"
)

// ErrExcluded marks a reason for which a rule of the data set or of the run
// leaves a recording out.
var ErrExcluded = errors.New("excluded by the rules of the run")

// Fail sets the outcome and the reason of a recording that gave no result:
// excluded where err wraps [ErrExcluded], else failed.
func Fail(row *table.Recording, err error) {
	row.Outcome = table.Failed
	if errors.Is(err, ErrExcluded) {
		row.Outcome = table.Excluded
	}
	row.Reason = strings.ToValidUTF8(err.Error(), "\uFFFD")
}

// maxText bounds each text of a row, in bytes. The longest of real data sets has
// 1,100.
const maxText = 8 << 10

// BoundTexts cuts the texts of a row that can grow with what was read, or with
// what a method said.
func BoundTexts(row *table.Recording) {
	for _, text := range []*string{&row.Reason, &row.ReferenceNote, &row.Repairs} {
		if len(*text) > maxText {
			*text = fmt.Sprintf("%s… (%d bytes more)", strings.ToValidUTF8((*text)[:maxText], ""), len(*text)-maxText)
		}
	}
}

// PanicError is a panic turned into an error, so that it costs a recording and
// not the run.
type PanicError struct {
	What  string // what was being done, such as "method duration-hmm"
	Value any    // what was panicked with
	Site  string // function and line
}

func (e *PanicError) Error() string {
	return fmt.Sprintf("%s panicked: %v at %s: a fault of the program; report it with the recording", e.What, e.Value, e.Site)
}

// Guard calls f and turns a panic into a [PanicError]. After a panic, the
// buffers that f works in may be in any state and must not be used again.
func Guard(what string, f func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &PanicError{what, r, panicSite(debug.Stack())}
		}
	}()
	return f()
}

// panicSite returns the first function of this project on a stack below the
// call that panicked, with file and line. The folder is left out: rows must not
// depend on where the program was built.
func panicSite(stack []byte) string {
	_, below, _ := strings.Cut(string(stack), "panic(")
	function := ""
	for line := range strings.Lines(below) {
		line = strings.TrimSpace(line)
		if function != "" {
			place, _, _ := strings.Cut(line, " ")
			return fmt.Sprintf("%s (%s)", function, path.Base(place))
		}
		if strings.HasPrefix(line, "phonocycle/") {
			function = line[:max(strings.LastIndexByte(line, '('), 0)]
		}
	}
	return "an unknown place"
}
