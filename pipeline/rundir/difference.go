package rundir

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
)

// ErrRecordings says that the data sets hold other recordings than those of a
// plan, or say something else of them.
var ErrRecordings = errors.New("the data have changed since its parts were made")

// CheckData returns an error if data sets, or the lists that select their
// recordings, are not those of the plan. It wraps ErrRecordings if they have the same
// layouts and lists and other recordings.
func (p *Plan) CheckData(now []DataSet, selection []Selection) error {
	is := *p
	is.DataSets = now
	switch d := selectionDifference(p.Selection, selection); {
	case d != "":
		return fmt.Errorf("it was made from other recordings: %s; give the lists that it was made with", d)
	case reflect.DeepEqual(p.DataSets, now):
		return nil
	case slices.EqualFunc(p.DataSets, now, func(x, y DataSet) bool { return x.Name == y.Name && x.LayoutDigest == y.LayoutDigest }):
		return fmt.Errorf("%w: %s; restore the files, or give another folder with --out", ErrRecordings, Difference(p, &is))
	}
	return fmt.Errorf("it was made from other data: %s; give the data that it was made from", Difference(p, &is))
}

// Difference names the first thing in which two plans differ.
func Difference(was, is *Plan) string {
	var a, b map[string]any
	for plan, into := range map[*Plan]*map[string]any{was: &a, is: &b} {
		content, _ := json.Marshal(plan)
		d := json.NewDecoder(bytes.NewReader(content))
		d.UseNumber()
		_ = d.Decode(into)
	}
	if was.Reference != is.Reference {
		return fmt.Sprintf("the reference was %q and is now %q", was.Reference, is.Reference)
	}
	if d := selectionDifference(was.Selection, is.Selection); d != "" {
		return d
	}
	for i := range min(len(was.DataSets), len(is.DataSets)) {
		if x, y := was.DataSets[i], is.DataSets[i]; x.Name == y.Name && x.ListDigest != y.ListDigest && x.Recordings == y.Recordings {
			return fmt.Sprintf("the names, people, labels or references of the %d recordings of %s have changed", x.Recordings, x.Name)
		} else if x.Name == y.Name && x.Recordings != y.Recordings {
			return fmt.Sprintf("data_sets[%d].recordings was %d and is now %d", i, x.Recordings, y.Recordings)
		}
	}
	for _, key := range []string{"tool", "stage", "config", "method_options", "fit_options", "model_digest", "data_sets", "labels", "segmentation_digest", "points", "people_in_training_data",
		"method_title", "origin", "declared", "folds_from", "trained_on", "fit_reference", "condition"} {
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
