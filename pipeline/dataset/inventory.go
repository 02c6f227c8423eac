package dataset

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"phonocycle/pipeline/pcg"
)

// Inventory is the content of a data set as Scan finds it.
type Inventory struct {
	Layout   string `json:"layout"`
	Title    string `json:"title"`
	Version  string `json:"version"`
	Citation string `json:"citation"`
	DOI      string `json:"doi,omitempty"`
	Licence  string `json:"licence"`

	// Condition says how the audio was changed, where the set is a copy that degrade made.
	Condition string `json:"condition,omitempty"`

	Recordings      int     `json:"recordings"`
	Listed          int     `json:"listed,omitempty"` // recordings before some were selected; 0 where all are
	Unusable        int     `json:"unusable"`         // recordings with unreadable audio or a duplicate id
	People          int     `json:"people"`           // each recording of an unknown person counts as one
	PersonUnknown   int     `json:"person_unknown"`   // recordings
	Seconds         float64 `json:"duration_s"`       // of readable recordings
	ShortestSeconds float64 `json:"shortest_s"`
	LongestSeconds  float64 `json:"longest_s"`

	Reference        string            `json:"reference,omitempty"`  // name of the one that was read
	References       []string          `json:"references,omitempty"` // names of all that the layout describes
	Kind             pcg.ReferenceKind `json:"reference_kind,omitempty"`
	Annotations      int               `json:"annotations"`        // recordings that have one
	Annotated        int               `json:"usable_annotations"` // readable recordings whose annotation can be used
	AnnotatedSeconds float64           `json:"annotated_s"`        // of states; for points from the first to the last
	S1               int               `json:"s1"`
	S2               int               `json:"s2"`

	Links        *LinkCounts    `json:"links,omitempty"` // symbolic links, if there are any
	Rates        []RateCount    `json:"rates"`
	Labels       []LabelSummary `json:"labels,omitempty"`
	HeartRate    *RateSummary   `json:"heart_rate_bpm,omitempty"`
	DefectCounts []KindCount    `json:"defect_counts"`
	Defects      []Defect       `json:"defects"`
	Notes        []string       `json:"notes,omitempty"`
	Warnings     []string       `json:"warnings,omitempty"`
}

// RateCount counts recordings of one sampling rate in hertz.
type RateCount struct {
	Rate       int `json:"rate_hz"`
	Recordings int `json:"recordings"`
}

// LabelSummary says which values a label takes, or, for numbers, over what
// range.
type LabelSummary struct {
	Name    string       `json:"name"`
	Numeric bool         `json:"numeric,omitempty"`
	Missing int          `json:"missing"` // recordings
	Values  []ValueCount `json:"values,omitempty"`
	Range   *Range       `json:"range,omitempty"`
}

// ValueCount counts the recordings with a value, and the people with at least
// one of them.
type ValueCount struct {
	Value      string `json:"value"`
	Recordings int    `json:"recordings"`
	People     int    `json:"people"`
}

// Range summarises a numeric label over recordings.
type Range struct {
	N      int     `json:"n"`
	Min    float64 `json:"min"`
	Median float64 `json:"median"`
	Max    float64 `json:"max"`
}

// RateSummary summarises the heart rates of recordings in beats per minute.
type RateSummary struct {
	Recordings int        `json:"recordings"` // with at least one whole cycle annotated
	Min        float64    `json:"min"`
	Deciles    [9]float64 `json:"deciles"` // tenth to ninetieth percentile
	Max        float64    `json:"max"`
}

// KindCount counts defects of one kind.
type KindCount struct {
	Kind  Kind `json:"kind"`
	Count int  `json:"count"`
}

// WriteText writes the inventory as text: counts first, then the defects by kind,
// file and line. It lists the first limit defects of each kind, or all of them if
// limit is negative.
func (inv *Inventory) WriteText(w io.Writer, limit int) error {
	b := bufio.NewWriter(w)
	inv.writeHead(b)
	inv.writeLabels(b)
	for _, n := range inv.Notes {
		fmt.Fprintf(b, "note: %s\n", n)
	}
	for _, n := range inv.Warnings {
		fmt.Fprintf(b, "warning: %s\n", n)
	}
	inv.writeDefects(b, limit)
	return b.Flush() // reports the first error of all writes
}

func (inv *Inventory) writeHead(w io.Writer) {
	fmt.Fprintf(w, "%s, version %s (layout %s)\n", inv.Title, inv.Version, inv.Layout)
	fmt.Fprintf(w, "cite: %s\nlicence: %s\n\n", inv.Citation, inv.Licence)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if inv.Condition != "" {
		fmt.Fprintf(t, "copy\taudio changed by %s\n", inv.Condition)
	}
	fmt.Fprintf(t, "recordings\t%d", inv.Recordings)
	if inv.Listed > 0 {
		fmt.Fprintf(t, " of %d, selected by a list", inv.Listed)
	}
	if inv.Unusable > 0 {
		fmt.Fprintf(t, ", of which %d cannot be used", inv.Unusable)
	}
	fmt.Fprintf(t, "\nlength\t%.2f h, %.1f to %.1f s each\n", inv.Seconds/3600, inv.ShortestSeconds, inv.LongestSeconds)
	fmt.Fprintf(t, "people\t%d", inv.People)
	if inv.PersonUnknown > 0 {
		fmt.Fprintf(t, " (each of %d recordings of an unknown person counts as one)", inv.PersonUnknown)
	}
	fmt.Fprintln(t)
	for _, r := range inv.Rates {
		fmt.Fprintf(t, "at %d Hz\t%d\n", r.Rate, r.Recordings)
	}
	if inv.Links != nil {
		fmt.Fprintf(t, "symbolic links\t%v\n", inv.Links)
	}
	if inv.Reference != "" {
		fmt.Fprintf(t, "reference\t%s", inv.Reference)
		if len(inv.References) > 1 {
			fmt.Fprintf(t, "; the layout has %s", strings.Join(inv.References, ", "))
		}
		fmt.Fprintln(t)
	}
	fmt.Fprintf(t, "annotations\t%d, of which %d can be used\n", inv.Annotations, inv.Annotated)
	if inv.Annotated > 0 {
		fmt.Fprintf(t, "annotated time\t%.2f h, %d S1 and %d S2\n", inv.AnnotatedSeconds/3600, inv.S1, inv.S2)
	}
	if hr := inv.HeartRate; hr != nil {
		deciles := make([]string, len(hr.Deciles))
		for i, d := range hr.Deciles {
			deciles[i] = fmt.Sprintf("%.0f", d)
		}
		fmt.Fprintf(t, "heart rate\t%.0f to %.0f per minute in %d recordings; 10th, 20th ... 90th percentile %s\n",
			hr.Min, hr.Max, hr.Recordings, strings.Join(deciles, " "))
	}
	t.Flush()
	fmt.Fprintln(w)
}

// maxValues is how many values of a label the text shows; JSON has all.
const maxValues = 12

func (inv *Inventory) writeLabels(w io.Writer) {
	if len(inv.Labels) == 0 {
		return
	}
	fmt.Fprintln(w, "labels, in recordings (people):")
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, l := range inv.Labels {
		var parts []string
		if l.Range != nil {
			parts = append(parts, fmt.Sprintf("%g to %g, median %g", l.Range.Min, l.Range.Max, l.Range.Median))
		}
		for i, v := range l.Values {
			if i == maxValues {
				parts = append(parts, fmt.Sprintf("%d more values", len(l.Values)-maxValues))
				break
			}
			parts = append(parts, fmt.Sprintf("%s %d (%d)", v.Value, v.Recordings, v.People))
		}
		if l.Missing > 0 {
			parts = append(parts, fmt.Sprintf("missing %d", l.Missing))
		}
		fmt.Fprintf(t, "  %s\t%s\n", l.Name, strings.Join(parts, ", "))
	}
	t.Flush()
	fmt.Fprintln(w)
}

func (inv *Inventory) writeDefects(w io.Writer, limit int) {
	if len(inv.Defects) == 0 {
		fmt.Fprintln(w, "\nno defects")
		return
	}
	fmt.Fprintf(w, "\ndefects: %d\n", len(inv.Defects))
	for _, c := range inv.DefectCounts {
		fmt.Fprintf(w, "%s: %d\n", c.Kind, c.Count)
		shown := 0
		for i := range inv.Defects {
			d := &inv.Defects[i]
			if d.Kind != c.Kind {
				continue
			}
			if shown == limit {
				fmt.Fprintf(w, "  … and %d more", c.Count-shown)
				if remedy := remedies[c.Kind]; remedy != "" {
					fmt.Fprintf(w, ": %s", remedy)
				}
				fmt.Fprintln(w)
				break
			}
			shown++
			fmt.Fprintf(w, "  %s\n", d)
		}
	}
}
