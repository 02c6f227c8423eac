package choose

import (
	"time"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// counts are those of both sounds of a recording.
type counts struct{ tp, fp, fn int }

// readScores reads the counts at the headline of the rules, by recording; nil where the
// folder has no scores.
func readScores(dir string, rules *eval.Rules) (map[string]counts, error) {
	parts := table.PartsOf[table.Score](dir)
	if there, err := parts.List(); err != nil || len(there) == 0 {
		return nil, err
	}
	scores := map[string]counts{}
	for row, err := range table.ReadParts[table.Score](parts) {
		if err != nil {
			return nil, err
		}
		if row.Anchor != rules.Anchor.String() || time.Duration(row.ToleranceMS)*time.Millisecond != rules.Headline {
			continue
		}
		c := scores[row.Recording]
		scores[row.Recording] = counts{c.tp + int(row.TP), c.fp + int(row.FP), c.fn + int(row.FN)}
	}
	return scores, nil
}
