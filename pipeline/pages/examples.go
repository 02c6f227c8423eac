package pages

import (
	"cmp"
	"fmt"
	"slices"

	"phonocycle/eval"
	"phonocycle/eval/report"
)

const (
	// examplesByScore is how many recordings are shown as best, median and worst.
	examplesByScore = 3

	// examplesByReason is how many recordings are shown for one reason of the audit.
	examplesByReason = 2
)

// exampleGroup is a group of recordings that are shown for one reason.
type exampleGroup struct {
	title, why string
	ids        []string
	evidence   map[string]string // of the audit, by recording
}

// examplesOfScores chooses recordings by F1. Of equal scores the recording with
// more sounds comes first.
func examplesOfScores(d *report.Details) []exampleGroup {
	var list []report.ScoredRecording
	for _, s := range d.Recordings {
		if !s.Failed && s.Events > 0 && !s.F1().Null() {
			list = append(list, s)
		}
	}
	slices.SortStableFunc(list, func(a, b report.ScoredRecording) int {
		return cmp.Or(cmp.Compare(b.F1(), a.F1()), cmp.Compare(b.Events, a.Events))
	})
	n := min(examplesByScore, max(1, len(list)/3), len(list))
	take := func(from int) (ids []string) {
		for _, s := range list[from : from+n] {
			ids = append(ids, s.Recording)
		}
		return ids
	}
	if len(list) < 3 {
		return []exampleGroup{{title: "Recordings", why: "The recordings with a score.", ids: take(0)}}
	}
	worst := take(len(list) - n)
	slices.Reverse(worst)
	return []exampleGroup{
		{title: "Best", why: "Highest F1; of equal ones those with more sounds.", ids: take(0)},
		{title: "Median", why: "F1 around the median: the usual result of the method.", ids: take(len(list)/2 - n/2)},
		{title: "Worst", why: "Lowest F1. The error can be in the prediction or in the reference.", ids: worst},
	}
}

// examplesOfAudit chooses recordings of the audit: of each reason the first ones
// that are not shown for a more serious reason.
func examplesOfAudit(a *eval.Audit) []exampleGroup {
	var list []exampleGroup
	shown := make(map[string]bool)
	for d := eval.AuditReason(0); d < eval.Unusable; d++ {
		e := exampleGroup{title: "Reason: " + d.String(), evidence: make(map[string]string)}
		for _, f := range a.Findings {
			if f.Reason == d && !shown[f.Recording] && len(e.ids) < examplesByReason {
				e.ids = append(e.ids, f.Recording)
				e.evidence[f.Recording] = f.Evidence
				shown[f.Recording] = true
			}
		}
		if len(e.ids) > 0 {
			e.why = fmt.Sprintf("Shown: %d of the recordings with this reason, %d in all.", len(e.ids), a.ByReason[d.String()])
			list = append(list, e)
		}
	}
	return list
}
