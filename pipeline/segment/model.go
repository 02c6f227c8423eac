package segment

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// modelVersion is the version of model files written and read. It changes when
// a file of the old form would be misunderstood.
const modelVersion = 3

// What makes a model file unusable.
var (
	errModelVersion = errors.New("model has another version")
	errModelDigest  = errors.New("model does not match its digest")
	errModelMethod  = errors.New("model was fitted for another method")
)

// Model is a model file: what a method has learnt, and from what. It is written
// as JSON.
type Model struct {
	Version    int             `json:"version"`
	Method     string          `json:"method"`
	DataSet    string          `json:"data_set"` // name and version
	People     []string        `json:"people"`   // whose recordings were learnt from, as PersonKey names them, sorted, each once
	Recordings int             `json:"recordings"`
	Audio      []AudioFile     `json:"audio"`               // learnt from, sorted
	Inputs     string          `json:"inputs,omitempty"`    // digest of the audio and the annotations learnt from
	Condition  string          `json:"condition,omitempty"` // how the audio was changed that was learnt from
	FitOptions json.RawMessage `json:"fit_options,omitempty"`
	Date       string          `json:"date,omitempty"` // of the fit, as its caller gives it
	Tool       string          `json:"tool"`           // name and version of the program
	Remark     string          `json:"remark,omitempty"`
	Score      *ModelScore     `json:"score,omitempty"`
	Params     json.RawMessage `json:"params"` // the method's own
	Digest     string          `json:"digest"` // SHA-256 of all the above
}

// ModelScore is the score of the method on people left out in fitting, in a
// cross-validation of which the model itself is not a part: it was fitted to all
// folds.
type ModelScore struct {
	Folds       int     `json:"folds"`
	People      int     `json:"people"`
	Recordings  int     `json:"recordings"`
	Anchor      string  `json:"anchor"`
	ToleranceMS float64 `json:"tolerance_ms"`
	F1          float64 `json:"f1"`  // pooled over S1 and S2, a fraction of 1
	Low         float64 `json:"low"` // the bounds of its interval by bootstrap over people
	High        float64 `json:"high"`
}

// Marshal returns the model as a file: indented JSON that ends with a newline,
// the same bytes for the same model. It fills in the version and the digest, and
// sorts the people and the audio.
func (m *Model) Marshal() ([]byte, error) {
	m.Version = modelVersion
	m.People = slices.Compact(slices.Sorted(slices.Values(m.People)))
	m.Audio = slices.Compact(slices.SortedFunc(slices.Values(m.Audio), AudioFile.compare))
	var err error
	if m.Digest, err = m.digest(); err != nil {
		return nil, fmt.Errorf("write model of %s: %w", m.Method, err)
	}
	b, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("write model of %s: %w", m.Method, err)
	}
	return append(b, '\n'), nil
}

// digest hashes the model in compact form without its digest, so that a change
// of white space does not count.
func (m *Model) digest() (string, error) {
	bare := *m
	bare.Digest = ""
	b, err := json.Marshal(&bare)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return "sha256:" + hex.EncodeToString(sum[:]), nil
}

// ParseModel reads a model file for the given method; with an empty method it
// reads that of any. Errors wrap errModelVersion, errModelDigest or
// errModelMethod where one of them is the cause.
func ParseModel(data []byte, method string) (*Model, error) {
	var head struct {
		Version int `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("read model: %w: it is not a file that fit wrote", err)
	}
	if head.Version != modelVersion {
		return nil, fmt.Errorf("read model: %w, %d; this program reads %d: fit the model anew", errModelVersion, head.Version, modelVersion)
	}
	m := new(Model)
	if err := decodeStrictly(data, m); err != nil {
		return nil, fmt.Errorf("read model: %w", err)
	}
	switch digest, err := m.digest(); {
	case err != nil:
		return nil, fmt.Errorf("read model: %w", err)
	case !strings.EqualFold(digest, m.Digest):
		return nil, fmt.Errorf("read model: %w: it says %s and has %s: the file was changed or damaged after the fit", errModelDigest, m.Digest, digest)
	}
	if method != "" && m.Method != method {
		return nil, fmt.Errorf("read model: %w, %s: want one for %s", errModelMethod, m.Method, method)
	}
	return m, nil
}

// decodeStrictly decodes JSON, and refuses fields that v does not have.
func decodeStrictly(data []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	return d.Decode(v)
}

// readParams reads the parameters of a method's model into m, and refuses those
// that cannot be used.
func readParams(data []byte, m interface{ check() error }) error {
	err := decodeStrictly(data, m)
	if err == nil {
		err = m.check()
	}
	if err != nil {
		return fmt.Errorf("model: %w", err)
	}
	return nil
}

// checkPriors refuses priors of states by which a posterior cannot be divided.
func checkPriors(priors [4]float64) error {
	for j, p := range priors {
		if err := checkRanges(valueRange{fmt.Sprintf("state_priors[%d]", j), p, leastPrior, 1 - leastPrior}); err != nil {
			return err
		}
	}
	return nil
}

// leastPrior keeps the logarithm of a prior within reason: a state holds some
// hundredths of the time.
const leastPrior = 1e-6

// PersonKey names a person of a data set among those that a model knows. People
// of two data sets may have the same name.
func PersonKey(dataSet, person string) string { return dataSet + "/" + person }

// Knows reports whether the model has learnt from recordings of the person of
// that key.
func (m *Model) Knows(person string) bool {
	_, found := slices.BinarySearch(m.People, person)
	return found
}
