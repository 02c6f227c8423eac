package rundir

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/citation"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/pcg"
)

// Plan says what an output folder is made from. It holds no date, host or path
// of the machine, so that the parts of one plan can be made on several.
type Plan struct {
	Tool            string          `json:"tool"`
	Stage           string          `json:"stage"` // run, segment, extract, windows, crossval or score
	Config          config.Config   `json:"config"`
	MethodCitation  string          `json:"method_citation,omitempty"`
	Options         json.RawMessage `json:"method_options,omitempty"` // all of them, defaults included
	FitOptions      json.RawMessage `json:"fit_options,omitempty"`    // the same of the fit, also that of a model file
	MethodDigest    string          `json:"method_digest,omitempty"`  // of a method that is a program of its own
	ModelDigest     string          `json:"model_digest,omitempty"`
	DataSets        []DataSet       `json:"data_sets"`
	Selection       []Selection     `json:"selection,omitempty"`     // lists by which recordings were selected
	Reference       string          `json:"reference,omitempty"`     // name of the reference of the data sets
	FitReference    string          `json:"fit_reference,omitempty"` // the same of that to which models are fitted, where it is another
	Labels          []string        `json:"labels,omitempty"`
	RecordingLabels []string        `json:"recording_labels,omitempty"`        // labels that may differ between the recordings of a person
	Segmentation    string          `json:"segmentation_digest,omitempty"`     // of the states that another stage or program made
	Points          bool            `json:"points,omitempty"`                  // the predicted states are points of sounds, without durations
	TrainingOverlap int             `json:"people_in_training_data,omitempty"` // people on whose recordings the method was fitted

	// Condition changes the audio as it is read, but not that of a fit; nil for none.
	Condition *dataset.Change `json:"condition,omitempty"`

	// How the states came about, see eval.Provenance. FittedElsewhere stands for any
	// model of a file: whether people of its training data are scored depends on
	// Config.Overlap.
	MethodTitle string         `json:"method_title,omitempty"`
	Origin      eval.Origin    `json:"origin,omitempty"`
	Declared    eval.Origin    `json:"declared,omitempty"`
	FoldsFrom   string         `json:"folds_from,omitempty"`
	TrainedOn   eval.TrainedOn `json:"trained_on,omitzero"`

	// Digest identifies all of the above; every table carries it.
	Digest string `json:"digest"`
}

// DataSet is a data set as the plan found it.
type DataSet struct {
	Name         string `json:"name"`
	Title        string `json:"title,omitempty"`
	Version      string `json:"version,omitempty"`
	Citation     string `json:"citation,omitempty"`
	DOI          string `json:"doi,omitempty"`
	Recordings   int    `json:"recordings"`
	Listed       int    `json:"listed,omitempty"` // recordings before lists selected some of them; 0 without lists
	LayoutDigest string `json:"layout_digest"`
	ListDigest   string `json:"list_digest"` // of ids, people and labels

	// Publications are the citation in parts, where the layout has it so.
	Publications []citation.Work `json:"publications,omitempty"`

	// ReferenceKind says how the reference that the plan names is written down.
	ReferenceKind pcg.ReferenceKind `json:"reference_kind,omitempty"`

	// ReferenceDelay is the time from the R waves of an ECG to the S1 of the reference.
	ReferenceDelay time.Duration `json:"reference_delay_ns,omitempty"`

	// Condition is how the audio was changed, where the data set is a copy that degrade
	// made.
	Condition dataset.Changes `json:"condition,omitempty"`

	// TableFaults says which label tables are missing or could not be read as the
	// layout says.
	TableFaults []TableFault `json:"table_faults,omitempty"`
}

// TableFault is a label table of a data set that is missing or could not be read
// as the layout says.
type TableFault struct {
	Text   string `json:"text"`             // what is wrong, with file and line
	People bool   `json:"people,omitempty"` // the layout tells people apart by what could not be read
}

// Recordings returns the number of recordings of all data sets.
func (p *Plan) Recordings() int {
	n := 0
	for _, s := range p.DataSets {
		n += s.Recordings
	}
	return n
}

// DefaultRules returns the rules by which states are scored against the reference
// of the plan, unless a configuration says otherwise.
func (p *Plan) DefaultRules() eval.Rules {
	rules := eval.DefaultRules()
	rules.Reference = p.Reference
	for _, s := range p.DataSets {
		traits := dataset.TraitsOf(s.ReferenceKind)
		rules.S1Only = rules.S1Only || traits.S1Only
		for _, t := range traits.Sweep {
			rules.AddTolerance(t)
		}
		if traits.Headline > 0 {
			rules.SetHeadline(traits.Headline)
		}
	}
	return rules
}

// Parts returns the number of parts of the plan. It is at least one, so that the
// tables of an empty data set have their columns too.
func (p *Plan) Parts() int {
	return max(1, (p.Recordings()+p.Config.PartSize-1)/p.Config.PartSize)
}

// Seal sets the digest.
func (p *Plan) Seal() error {
	p.Digest = ""
	content, err := json.Marshal(p)
	if err != nil {
		return fmt.Errorf("plan: %w", err)
	}
	p.Digest = Digest(content)
	return nil
}

// ReadPlan reads the plan of an output folder; nil if it has none.
func ReadPlan(dir string) (*Plan, error) {
	path := filepath.Join(dir, PlanFile)
	content, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read plan: %w", err)
	}
	var p Plan
	if err := json.Unmarshal(content, &p); err != nil {
		return nil, fmt.Errorf("plan %s: %w; give --overwrite to replace the folder, or another with --out", path, err)
	}
	if err := p.check(); err != nil {
		return nil, fmt.Errorf("plan %s: %w; give --overwrite to replace the folder, or another with --out", path, err)
	}
	return &p, nil
}

// check returns an error for values that no plan has. A plan of this version
// must match its digest; another version may have had other fields.
func (p *Plan) check() error {
	if p.Config.PartSize < 1 {
		return fmt.Errorf("parts of %d recordings", p.Config.PartSize)
	}
	if len(p.DataSets) == 0 {
		return fmt.Errorf("it names no data set: another version wrote it (%s, and this is %s)", p.Tool, Tool)
	}
	const most = 1 << 40
	for _, s := range p.DataSets {
		if s.Recordings < 0 || s.Recordings > most {
			return fmt.Errorf("data set %s of %d recordings", s.Name, s.Recordings)
		}
	}
	if p.Tool != Tool {
		return nil
	}
	sealed := *p
	if err := sealed.Seal(); err != nil {
		return err
	}
	if sealed.Digest != p.Digest {
		return errors.New("it does not match its digest: it was changed after it was written, or another build wrote it")
	}
	return nil
}

// WriteOrVerify writes the plan into dir, or makes sure that the plan that is
// there is the same. Where resume is false, a folder with results is refused.
func (p *Plan) WriteOrVerify(dir string, resume bool) (err error) {
	l, err := lockPlan(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.Release()) }()
	there, err := ReadPlan(dir)
	if err != nil {
		return err
	}
	if there == nil {
		if err := refuseUnknown(dir); err != nil {
			return err
		}
		return p.Write(dir, PlanFile)
	}
	if !resume {
		return fmt.Errorf("output folder %s holds the results of another run; give --resume to continue it, --overwrite to replace it, or another folder with --out", dir)
	}
	if there.Digest != p.Digest {
		if err := there.CheckData(p.DataSets, p.Selection); errors.Is(err, ErrRecordings) && there.Reference == p.Reference {
			return fmt.Errorf("output folder %s: %w", dir, err)
		}
		return fmt.Errorf("output folder %s holds a run that differs: %s; repeat what it was made with, give --overwrite to replace it, or another folder with --out", dir, Difference(there, p))
	}
	return nil
}

// Write writes the plan into the file name of dir.
func (p *Plan) Write(dir, name string) error {
	return WriteJSON(filepath.Join(dir, name), p)
}

// refuseUnknown refuses a folder that has tables but no plan.
func refuseUnknown(dir string) error {
	for _, pattern := range []string{SummaryFile, "*/part-*.parquet"} {
		found, err := filepath.Glob(filepath.Join(escapeGlob(dir), pattern))
		if err != nil {
			return fmt.Errorf("output folder %s: %w", dir, err)
		}
		if len(found) > 0 {
			return fmt.Errorf("output folder %s has %s but no %s: it is not known what made it; give another folder with --out",
				dir, filepath.ToSlash(strings.TrimPrefix(found[0], dir+string(filepath.Separator))), PlanFile)
		}
	}
	return nil
}
