package program

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"phonocycle/pipeline/segment"
)

// Load reads the file of a method. It starts no program: that is done for the first
// recording, and for a fit.
func Load(file string) (segment.Method, error) {
	m, err := readMethod(file)
	if err != nil {
		return segment.Method{}, err
	}
	loaded := segment.Method{
		Name: m.Name, Title: m.Title, Citation: m.Citation, Digest: m.digest,
		Points: m.points && m.durations == nil, Original: m.original(), File: m.file,
		Defaults: m.options.withDefaults,
		New:      m.newSegmenter,
	}
	if m.Fit != nil {
		loaded.FitDefaults = m.fitOptions.withDefaults
		loaded.Fit = m.fit
	}
	return loaded, nil
}

// newSegmenter returns a segmenter with the given options and the content of a model
// file.
func (m *method) newSegmenter(options any, model []byte) (segment.Segmenter, error) {
	text, err := json.Marshal(options)
	if err != nil {
		return nil, err
	}
	s := &segmenter{
		inputs: inputs{inputRule: m.inputRule}, answerRule: m.answerRule,
		words: filled(m.Segment, text, nil), dir: m.dir,
	}
	if m.Fit != nil {
		if s.model, err = m.readParams(model); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// readParams returns the file of the program from a model file.
func (m *method) readParams(model []byte) ([]byte, error) {
	fitted, err := segment.ParseModel(model, m.Name)
	if err != nil {
		return nil, err
	}
	var p params
	d := json.NewDecoder(bytes.NewReader(fitted.Params))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		return nil, fmt.Errorf("model: %w", err)
	}
	if len(p.File) == 0 {
		return nil, errors.New("model: it holds no file of the program")
	}
	return p.File, nil
}
