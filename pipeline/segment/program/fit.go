package program

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"

	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/signal"
)

// maxModel bounds the model that a program writes. In the model file of a fit it takes
// a third more.
const maxModel = 32 << 20

// params are the parameters of a method's model: the file that its program wrote.
type params struct {
	File []byte `json:"file"` // in base64
}

// fit gives a program the examples and returns the model that it writes.
func (m *method) fit(ctx context.Context, options any, examples iter.Seq2[segment.Example, error], how segment.Fitting) (_ json.RawMessage, err error) {
	fitOptions, err := json.Marshal(options)
	if err != nil {
		return nil, err
	}
	folder, err := newFolder()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	if err := m.writeExamples(ctx, filepath.Join(folder, examplesName), examples); err != nil {
		return nil, err
	}
	messages := &tail{line: how.Progress}
	cmd := command(filled(m.Fit, nil, fitOptions)(folder), m.dir, folder)
	cmd.Stdout, cmd.Stderr = messages, messages
	c, err := startChild(cmd)
	if err != nil {
		return nil, err
	}
	defer context.AfterFunc(ctx, c.kill)()
	<-c.ended
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if !cmd.ProcessState.Success() {
		return nil, &fault{"the program " + howEnded(cmd.ProcessState), messages.last(folder)}
	}
	content, err := readModel(folder)
	if err != nil {
		return nil, &fault{err.Error(), messages.last(folder)}
	}
	return json.Marshal(params{content})
}

// readModel reads the model that a program wrote into a folder.
func readModel(folder string) ([]byte, error) {
	path := filepath.Join(folder, modelName)
	if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
		return nil, fmt.Errorf("the program ended without an error and wrote no file %s; it must have exactly this name%s", modelPlace, others(folder))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("the model of the program cannot be read: %w", errors.Unwrap(err))
	}
	defer f.Close()
	content, err := io.ReadAll(io.LimitReader(f, maxModel+1))
	switch {
	case err != nil:
		return nil, fmt.Errorf("the model of the program cannot be read: %w", errors.Unwrap(err))
	case len(content) == 0:
		return nil, errors.New("the program wrote an empty model")
	case len(content) > maxModel:
		return nil, fmt.Errorf("the program wrote a model of more than %d MB", maxModel>>20)
	}
	return content, nil
}

// others names a file that may be the model under another name: some libraries add an
// extension.
func others(folder string) string {
	found, _ := filepath.Glob(filepath.Join(folder, modelName+"?*"))
	if len(found) == 0 {
		return ""
	}
	return fmt.Sprintf(" and not %s%s", modelPlace, shown(filepath.Base(found[0])[len(modelName):], maxShown))
}

// labelled is an example as a line of JSON.
type labelled struct {
	*request
	Person    string   `json:"person"`
	Intervals [][3]any `json:"intervals"` // each [state, start, end], in seconds
}

// examplesFile lists the examples in their folder.
const examplesFile = "examples.jsonl"

// writeExamples writes the examples into a new folder: a line for each in
// examples.jsonl, and its signal in a file of its own.
func (m *method) writeExamples(ctx context.Context, folder string, examples iter.Seq2[segment.Example, error]) error {
	if err := os.Mkdir(folder, 0o700); err != nil {
		return fmt.Errorf("examples for the program: %w", err)
	}
	in, w := inputs{inputRule: m.inputRule}, signal.NewWaveform(nil)
	var lines bytes.Buffer
	n := 0
	for e, err := range examples {
		if err := errors.Join(err, ctx.Err()); err != nil {
			return err
		}
		n++
		w.Set(e.X)
		line, err := in.example(w, &e, filepath.Join(folder, fmt.Sprintf("%06d.npy", n)))
		if err != nil {
			return fmt.Errorf("recording %s: %w", e.Recording, err)
		}
		lines.Write(append(line, '\n'))
	}
	if n == 0 {
		return errors.New("no annotated recording to fit to")
	}
	if err := os.WriteFile(filepath.Join(folder, examplesFile), lines.Bytes(), 0o600); err != nil {
		return fmt.Errorf("examples for the program: %w", err)
	}
	return nil
}

// example writes the signal of an example to a file, and returns the line that
// describes it.
func (s *inputs) example(w *signal.Waveform, e *segment.Example, file string) ([]byte, error) {
	request, err := s.request(w, &e.Source, file)
	if err != nil {
		return nil, err
	}
	l := labelled{request: request, Person: e.Person, Intervals: [][3]any{}}
	for _, iv := range e.Reference.Intervals {
		l.Intervals = append(l.Intervals, [3]any{iv.State.String(), iv.Start.Seconds(), iv.End.Seconds()})
	}
	return json.Marshal(l)
}
