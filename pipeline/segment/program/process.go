package program

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// process is a running program that is asked in lines on its standard input and
// answers in lines on its standard output.
type process struct {
	*child
	folder   string // its own
	stdin    *os.File
	stdout   *os.File
	answers  *bufio.Reader
	messages *tail
	asked    bool // a first time
}

// fault is what a program did against the protocol. Nothing more can be asked of its
// process.
type fault struct{ what, messages string }

func (f *fault) Error() string {
	if f.messages == "" {
		return f.what + "; it wrote no message to standard error"
	}
	return f.what + "; the last lines of its standard error: " + f.messages
}

// unanswered is a request without an answer when its context ended.
type unanswered struct {
	fault
	cause error // of the context
}

// Unwrap implements the interface of package errors.
func (u *unanswered) Unwrap() error { return u.cause }

// Names in the private folder of a process.
const (
	folderPattern = "phonocycle-program-*"
	modelName     = "model"
	signalName    = "signal.npy"
	examplesName  = "examples"
)

// newFolder makes a private folder for a process and its temporary files.
func newFolder() (string, error) {
	folder, err := os.MkdirTemp("", folderPattern) // with mode 0700
	if err != nil {
		return "", fmt.Errorf("private folder of the program: %w", err)
	}
	return folder, nil
}

// command returns a command that runs in dir with its temporary files in folder. The
// last variable of its environment, which it shares with all that it starts, is its own.
func command(words []string, dir, folder string) *exec.Cmd {
	cmd := exec.Command(words[0], words[1:]...)
	cmd.Dir = dir
	cmd.Env = append(cmd.Environ(), "TMP="+folder, "TEMP="+folder, "TMPDIR="+folder)
	return cmd
}

// startProcess starts a program to answer requests. The model is nil for a method
// without one.
func startProcess(words func(folder string) []string, dir string, model []byte) (_ *process, err error) {
	folder, err := newFolder()
	if err != nil {
		return nil, err
	}
	p := &process{folder: folder, messages: &tail{}}
	defer func() {
		if err != nil {
			p.stdin.Close() // does nothing to a nil file
			p.stdout.Close()
			os.RemoveAll(folder)
		}
	}()
	if model != nil {
		if err := os.WriteFile(filepath.Join(folder, modelName), model, 0o600); err != nil {
			return nil, fmt.Errorf("model for the program: %w", err)
		}
	}
	cmd := command(words(folder), dir, folder)
	cmd.Stderr = p.messages
	requests, stdin, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer requests.Close()
	p.stdin = stdin
	stdout, answers, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer answers.Close()
	p.stdout, p.answers = stdout, bufio.NewReaderSize(stdout, 64<<10)
	cmd.Stdin, cmd.Stdout = requests, answers
	if p.child, err = startChild(cmd); err != nil {
		return nil, &fault{what: err.Error()}
	}
	return p, nil
}

// maxAnswer bounds an answer. A line for each state of two hours at 220 beats per
// minute has 5 MB.
const maxAnswer = 16 << 20

// ask writes a line and returns the line that answers it, valid until the next call.
// When ctx ends, the process is killed and the error wraps that of ctx. All other
// errors are faults.
func (p *process) ask(ctx context.Context, request []byte) ([]byte, error) {
	defer context.AfterFunc(ctx, p.interrupt)()
	if p.asked {
		p.messages.clear() // what was said of earlier recordings
	}
	p.asked = true
	if p.answers.Buffered() > 0 {
		return nil, &fault{what: "the program wrote more than one line for an answer"}
	}
	p.stdin.Write(append(request, '\n')) // an error shows in what the program answers
	line, err := readLine(p.answers, maxAnswer)
	switch {
	case err == nil:
		return line, nil
	case ctx.Err() != nil:
		p.end(0)
		return nil, &unanswered{fault{"the program gave no answer", p.messages.last(p.folder)}, ctx.Err()}
	case errors.Is(err, errLongLine):
		p.kill()
		return nil, p.fault(fmt.Sprintf("the program wrote a line of more than %d MB", maxAnswer>>20))
	case errors.Is(err, errPartLine):
		return nil, p.fault("the program {} in the middle of an answer")
	}
	return nil, p.fault("the program {} before it answered")
}

// interrupt kills the process and ends what waits for it.
func (p *process) interrupt() {
	p.kill()
	past := time.Unix(1, 0)
	p.stdin.SetWriteDeadline(past)
	p.stdout.SetReadDeadline(past)
}

// endGrace is the time in which a program must end when its standard input does.
const endGrace = time.Second

// fault ends the process, so that its messages are complete, and says what it did: {}
// stands for how it ended.
func (p *process) fault(what string) error {
	p.stdin.Close()
	how := "closed its standard output"
	if p.endsWithin(endGrace) {
		how = howEnded(p.cmd.ProcessState)
	}
	p.end(0)
	return &fault{strings.ReplaceAll(what, "{}", how), p.messages.last(p.folder)}
}

// howEnded says how a process ended that nobody here has killed.
func howEnded(s *os.ProcessState) string {
	if s.Exited() {
		return fmt.Sprintf("ended with exit status %d", s.ExitCode())
	}
	return fmt.Sprintf("was ended by the system (%v)", s)
}

// close ends the process and removes its folder.
func (p *process) close() error {
	p.stdin.Close()
	gone := p.end(endGrace)
	p.stdout.Close()
	err := os.RemoveAll(p.folder)
	if !gone {
		err = errors.Join(fmt.Errorf("process %d of the program does not end", p.cmd.Process.Pid), err)
	}
	return err
}

// Errors of readLine beside those of reading.
var (
	errLongLine = errors.New("line too long")
	errPartLine = errors.New("line without end")
)

// readLine returns the next line without its end. It holds no more than most bytes.
func readLine(r *bufio.Reader, most int) ([]byte, error) {
	line, err := r.ReadSlice('\n')
	if err == bufio.ErrBufferFull {
		long := append([]byte(nil), line...)
		for err == bufio.ErrBufferFull {
			if len(long) > most {
				return nil, errLongLine
			}
			line, err = r.ReadSlice('\n')
			long = append(long, line...)
		}
		line = long
	}
	if err == io.EOF && len(line) > 0 {
		return nil, errPartLine
	}
	if err != nil {
		return nil, err
	}
	return line[:len(line)-1], nil
}
