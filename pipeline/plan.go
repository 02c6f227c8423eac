package pipeline

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"phonocycle/pipeline/table"
)

// planFile is the name of the plan in an output folder.
const planFile = "plan.json"

// Plan says what an output folder is made from. It holds no date, host or path
// of the machine, so that the parts of one plan can be made on several.
type Plan struct {
	Tool        string          `json:"tool"`
	Stage       string          `json:"stage"` // run, segment, extract, windows or crossval
	Config      Config          `json:"config"`
	Options     json.RawMessage `json:"method_options,omitempty"` // all of them, defaults included
	FitOptions  json.RawMessage `json:"fit_options,omitempty"`    // the same of the fit
	ModelDigest string          `json:"model_digest,omitempty"`
	Sources     []PlanSource    `json:"sources"`
	Labels      []string        `json:"labels,omitempty"`
	Given       string          `json:"segmentation_digest,omitempty"` // of the states table that extract reads
	KnownPeople int             `json:"people_known_to_model,omitempty"`

	// Digest identifies all of the above; every table carries it.
	Digest string `json:"digest"`
}

// PlanSource is a data set as the plan found it.
type PlanSource struct {
	Name         string `json:"name"`
	Title        string `json:"title,omitempty"`
	Version      string `json:"version,omitempty"`
	Citation     string `json:"citation,omitempty"`
	Recordings   int    `json:"recordings"`
	LayoutDigest string `json:"layout_digest"`
	ListDigest   string `json:"list_digest"` // of ids, people and labels
}

// recordings returns the number of recordings of all sources.
func (p *Plan) recordings() int {
	n := 0
	for _, s := range p.Sources {
		n += s.Recordings
	}
	return n
}

// parts returns the number of parts of the plan: at least one, so that an empty
// data set too leaves tables with their columns.
func (p *Plan) parts() int {
	return max(1, (p.recordings()+p.Config.PartSize-1)/p.Config.PartSize)
}

// seal sets the digest.
func (p *Plan) seal() error {
	p.Digest = ""
	content, err := json.Marshal(p)
	if err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	p.Digest = digestOf(content)
	return nil
}

// metadata is what the tables of the plan say of their making.
func (p *Plan) metadata() table.Metadata {
	return table.Metadata{Tool: p.Tool, Config: p.Digest, Warnings: p.warnings()}
}

// warnings is what must be known before the tables of the plan are used.
func (p *Plan) warnings() []string {
	if p.KnownPeople == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the method was fitted on recordings of %d of these people: its segmentation of them, "+
		"and what is measured by it, says nothing about others; column method_knows_person tells who", p.KnownPeople)}
}

// readPlan reads the plan of an output folder; nil if it has none.
func readPlan(dir string) (*Plan, error) {
	path := filepath.Join(dir, planFile)
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read plan: %w", err)
	}
	var p Plan
	if err := json.Unmarshal(content, &p); err != nil {
		return nil, fmt.Errorf("plan %s: %w; remove the folder and run anew", path, err)
	}
	if err := p.check(); err != nil {
		return nil, fmt.Errorf("plan %s: %w; remove the folder and run anew", path, err)
	}
	return &p, nil
}

// tool is this program, as plans name it.
const tool = "phonocycle " + Version

// check reports what no plan says. One of this version must have its digest;
// another version may have had other fields.
func (p *Plan) check() error {
	if p.Config.PartSize < 1 {
		return fmt.Errorf("parts of %d recordings", p.Config.PartSize)
	}
	const most = 1 << 40
	for _, s := range p.Sources {
		if s.Recordings < 0 || s.Recordings > most {
			return fmt.Errorf("data set %s of %d recordings", s.Name, s.Recordings)
		}
	}
	if p.Tool != tool {
		return nil
	}
	sealed := *p
	if err := sealed.seal(); err != nil {
		return err
	}
	if sealed.Digest != p.Digest {
		return errors.New("it does not match its digest: it was changed after it was written, or another build wrote it")
	}
	return nil
}

// settle writes the plan into dir, or makes sure that the one that is there is
// the same. Where resume is false, a folder with results is refused.
func (p *Plan) settle(dir string, resume bool) (err error) {
	l, err := lockPlan(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.release()) }()
	there, err := readPlan(dir)
	if err != nil {
		return err
	}
	if there == nil {
		if err := refuseForeign(dir); err != nil {
			return err
		}
		return p.write(dir, planFile)
	}
	if !resume {
		return fmt.Errorf("output folder %s holds the results of another run; give --resume to continue it, or another folder with --out", dir)
	}
	if there.Digest != p.Digest {
		return fmt.Errorf("output folder %s holds a run that differs: %s; repeat what it was made with, or give another folder with --out", dir, difference(there, p))
	}
	return nil
}

// write writes the plan into a file of dir.
func (p *Plan) write(dir, name string) error {
	content, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	return table.WriteFileAtomic(filepath.Join(dir, name), append(content, '\n'))
}

// refuseForeign refuses a folder that has tables but no plan of ours.
func refuseForeign(dir string) error {
	for _, name := range tableNames {
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return fmt.Errorf("output folder %s has a %s but no %s: it is not known what made it; give another folder with --out",
				dir, name, planFile)
		}
	}
	return nil
}

var tableNames = []string{"recordings", "states", "cycles", "people", "windows", "matches", "scores", summaryFile}

// difference names the first thing in which two plans differ.
func difference(was, is *Plan) string {
	var a, b map[string]any
	for plan, into := range map[*Plan]*map[string]any{was: &a, is: &b} {
		content, _ := json.Marshal(plan)
		d := json.NewDecoder(bytes.NewReader(content))
		d.UseNumber()
		_ = d.Decode(into)
	}
	for i := range min(len(was.Sources), len(is.Sources)) {
		if x, y := was.Sources[i], is.Sources[i]; x.Name == y.Name && x.ListDigest != y.ListDigest && x.Recordings == y.Recordings {
			return fmt.Sprintf("the names, people, labels or references of the %d recordings of %s have changed", x.Recordings, x.Name)
		} else if x.Name == y.Name && x.Recordings != y.Recordings {
			return fmt.Sprintf("sources[%d].recordings was %d and is now %d", i, x.Recordings, y.Recordings)
		}
	}
	for _, key := range []string{"tool", "stage", "config", "method_options", "fit_options", "model_digest", "sources", "labels", "segmentation_digest", "people_known_to_model"} {
		if path, x, y := firstDifference(key, a[key], b[key]); path != "" {
			return fmt.Sprintf("%s was %s and is now %s", path, x, y)
		}
	}
	return "the digest of the plan"
}

// firstDifference walks two JSON values and returns the path of the first
// difference and both values there.
func firstDifference(path string, a, b any) (where, was, is string) {
	if reflect.DeepEqual(a, b) {
		return "", "", ""
	}
	if x, ok := a.(map[string]any); ok {
		if y, ok := b.(map[string]any); ok {
			for _, key := range sortedKeys(x, y) {
				if where, was, is := firstDifference(path+"."+key, x[key], y[key]); where != "" {
					return where, was, is
				}
			}
		}
	}
	if x, ok := a.([]any); ok {
		if y, ok := b.([]any); ok && len(x) == len(y) {
			for i := range x {
				if where, was, is := firstDifference(fmt.Sprintf("%s[%d]", path, i), x[i], y[i]); where != "" {
					return where, was, is
				}
			}
		}
	}
	return strings.ReplaceAll(path, "_", "-"), show(a), show(b)
}

func show(v any) string {
	if v == nil {
		return "not there"
	}
	content, _ := json.Marshal(v)
	const most = 120
	if len(content) > most {
		return string(content[:most]) + "…"
	}
	return string(content)
}

func sortedKeys(a, b map[string]any) []string {
	keys := slices.Collect(maps.Keys(a))
	for k := range b {
		if _, ok := a[k]; !ok {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	return keys
}
