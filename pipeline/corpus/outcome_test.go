package corpus

import (
	"strings"
	"testing"

	"phonocycle/pipeline/table"
)

func TestBoundTexts(t *testing.T) {
	fits := strings.Repeat("x", maxText)
	row := table.Recording{Reason: fits, ReferenceNote: fits + "yz", Repairs: strings.Repeat("é", maxText)}
	row.Repairs = "a" + row.Repairs // the bound lies inside a letter
	BoundTexts(&row)
	if row.Reason != fits {
		t.Error("a reason that fits was cut")
	}
	if want := fits + "… (2 bytes more)"; row.ReferenceNote != want {
		t.Errorf("note ends in %q", row.ReferenceNote[maxText-5:])
	}
	if !strings.HasSuffix(row.Repairs, "é… (8193 bytes more)") || len(row.Repairs) > maxText+40 {
		t.Errorf("repairs end in %q", row.Repairs[maxText-5:])
	}
}
