package compare

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"phonocycle/eval"
	"phonocycle/pipeline/config"
)

// exchangeReference makes S1 and S2, systole and diastole change places in an
// annotation file.
func exchangeReference(t *testing.T, path string) {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	swap := strings.NewReplacer(",S1", ",S2", ",S2", ",S1", ",systole", ",diastole", ",diastole", ",systole")
	if err := os.WriteFile(path, []byte(swap.Replace(string(content))), 0o644); err != nil {
		t.Fatal(err)
	}
}

// Of exchanges planted in the references of one recording of six, at least 95 %
// are found, by whatever evidence, and at most 2 % of the other references are
// taken for exchanged. The hearts beat 50 to 100 times a minute.
func TestAuditFindsExchangesPlantedInADataSet(t *testing.T) {
	const recordings = 96
	src := atRest(t, recordings)
	annotations, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.csv"))
	if err != nil || len(annotations) != recordings {
		t.Fatalf("%d annotations: %v", len(annotations), err)
	}
	random := rand.New(rand.NewPCG(51, 52))
	planted := map[string]bool{}
	for _, path := range annotations {
		if random.IntN(6) == 0 {
			exchangeReference(t, path)
			planted[strings.TrimSuffix(filepath.Base(path), ".csv")] = true
		}
	}
	folders := []string{segmented(t, src, "shannon-peaks", nil), segmented(t, src, "duration-hmm", nil)}
	audit, err := Audit(context.Background(), AuditOptions{Folders: folders}, nil)
	if err != nil {
		t.Fatal(err)
	}
	found, wrong := map[string]bool{}, map[string]bool{}
	for _, f := range audit.Findings {
		switch {
		case f.Reason > eval.ExchangedByMethods:
		case planted[f.Recording]:
			found[f.Recording] = true
		default:
			wrong[f.Recording] = true
		}
	}
	others := len(annotations) - len(planted)
	t.Logf("%d of %d planted found, %d of %d others flagged; by reason %v", len(found), len(planted), len(wrong), others, audit.ByReason)
	if len(found)*100 < 95*len(planted) || len(planted) < 12 {
		t.Errorf("%d of %d planted exchanges found, want 95 %%", len(found), len(planted))
	}
	if len(wrong)*100 > 2*others {
		t.Errorf("%d of %d others flagged, want at most 2 %%: %v", len(wrong), others, wrong)
	}
}

func TestAuditNamesFileAndLine(t *testing.T) {
	src := atRest(t, 4)
	annotations, err := filepath.Glob(filepath.Join(src.Data, "recordings", "*.csv"))
	if err != nil || len(annotations) < 2 {
		t.Fatal(annotations, err)
	}
	lines := func(path string, change func([]string) []string) {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		all := change(strings.Split(string(content), "\n"))
		if err := os.WriteFile(path, []byte(strings.Join(all, "\n")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	lines(annotations[0], func(l []string) []string { return append(l[:9:9], l[10:]...) }) // line 10 goes
	lines(annotations[1], func(l []string) []string { l[5] = "0.9,0.8,S1"; return l })     // runs backwards
	folder := segmented(t, src, "shannon-peaks", nil)
	audit, err := Audit(context.Background(), AuditOptions{Folders: []string{folder}, Inputs: []config.Input{src}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	gap, unusable := "", ""
	for _, f := range audit.Findings {
		switch f.Reason {
		case eval.Gaps:
			gap = f.Place
		case eval.Unusable:
			unusable = f.Evidence
		}
	}
	if want := "recordings/" + filepath.Base(annotations[0]) + ":10"; gap != want {
		t.Errorf("gap at %q, want %q", gap, want)
	}
	if want := filepath.Base(annotations[1]) + ":6"; !strings.Contains(unusable, want) {
		t.Errorf("unusable: %q, want %q", unusable, want)
	}
}
