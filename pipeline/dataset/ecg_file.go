package dataset

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"time"

	"phonocycle/pipeline/audio/wfdb"
	"phonocycle/pipeline/pcg"
)

// maxDelay bounds the time from an R wave to the middle of S1.
const maxDelay = time.Second

// ecg checks the keys of a reference of kind ecg.
func (c *checker) ecg(at string, p *compiledReference, _ []string) {
	r := &p.ReferenceRule
	if r.Signal == "" {
		c.fail(at+".signal", "missing: which signal of the records is the ECG? Give its description or its number, such as ECG")
	}
	var err error
	if p.delay, err = time.ParseDuration(r.Delay); err != nil || p.delay < 0 || p.delay > maxDelay {
		c.fail(at+".delay", "%q: want the time from the R wave to the middle of S1, from 0s to %v, such as 60ms", r.Delay, maxDelay)
	}
	for _, k := range []struct {
		key   string
		given bool
	}{
		{"delimiter", r.Delimiter != ""}, {"header", r.Header != ""}, {"key", r.Key != ""}, {"key_pattern", r.KeyPattern != ""},
		{"match", r.Match != ""}, {"columns", r.Columns != ReferenceColumns{}}, {"unit", r.Unit != ""}, {"base", r.Base != 0},
		{"states", len(r.States) > 0}, {"variable", r.Variable != ""},
	} {
		if k.given {
			c.fail(at+"."+k.key, "a reference of kind %s has no such key: its file is the header of a WFDB record", r.Kind)
		}
	}
}

// readECG reads the reference that the ECG of a recording gives.
func (r *references) readECG(of annotated) (ref pcg.Reference, defects []Defect, digest string) {
	signal, digest, err := r.readSignal(of.file)
	if r.rule.Optional && errors.Is(err, wfdb.ErrNoSignal) {
		return ref, nil, digest // the record has no ECG
	}
	if err != nil {
		return ref, []Defect{ecgUnusable.at(of.file, 0, err).of(of.recording)}, digest
	}
	ref.Points, ref.Unannotated, defects = ecgReference(of.file, signal.Values, signal.Rate, r.rule.delay, of.length)
	for i := range defects {
		defects[i] = defects[i].of(of.recording)
	}
	return ref, defects, digest
}

// digestOfECG returns the digest of the files of an ECG as readECG does.
func (r *references) digestOfECG(file string) (string, error) {
	_, digest, err := r.readSignal(file)
	if digest == "" {
		return "", fmt.Errorf("%s: %w", Printable(file), err)
	}
	return digest, nil
}

// readSignal reads the signal of the rule from the record with this header. The digest
// covers the header and the signal file; it covers the header alone where there is no
// such signal, and is empty where a file cannot be read.
func (r *references) readSignal(file string) (signal *wfdb.Samples, digest string, err error) {
	f, err := r.folder.openFile(file)
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	header, err := wfdb.ReadHeader(f)
	if err != nil {
		return nil, digestOf(f), err
	}
	i, err := header.Find(r.rule.Signal)
	if err != nil {
		return nil, digestOf(f), err
	}
	var samples string // digest of the signal file
	signal, err = header.ReadSignal(i, func(name string) (io.ReadSeekCloser, error) {
		s, err := r.folder.openSignalFile(file, name)
		if err != nil {
			return nil, err
		}
		return digestedFile{s, &samples}, nil
	})
	all := digestOf(f)
	if all != "" && samples != "" {
		all = fmt.Sprintf("%x", sha256.Sum256([]byte(all+"\n"+samples+"\n")))
	} else if err == nil {
		return nil, "", errors.New("changed while it was read: run again when nothing writes to the data set")
	}
	return signal, all, err
}

// digestedFile tells the digest of a file when it is closed.
type digestedFile struct {
	*File
	digest *string
}

// Close reads the file to its end and closes it.
func (f digestedFile) Close() error {
	*f.digest = digestOf(f.File)
	return f.File.Close()
}
