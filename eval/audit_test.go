package eval

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/pcg"
)

// heart lays cycles of a heart at a rate, with systole from the regressions on
// heart rate of Weissler 1968 (men, at rest, from memory) up to 100 a minute and
// Sugiura 1987 (exercise) above, less 70 ms from Q to S1, and with the scatter
// between people of the former: 14 ms.
func heart(random *rand.Rand, rate, scatter float64, exchanged bool) []pcg.Interval {
	qs2 := 546 - 2.1*rate
	if rate > 100 {
		qs2 = 480 - 1.4*rate
	}
	systole, cycle := qs2-70+14*scatter, 60_000/rate
	milli := func(v float64) time.Duration { return time.Duration(v * float64(ms)) }
	var list []pcg.Interval
	start := milli(random.Float64() * cycle)
	for range 12 {
		beat, s1, s2 := cycle*(1+0.03*random.NormFloat64()), 100+8*random.NormFloat64(), 85+8*random.NormFloat64()
		gap := systole - (s1+s2)/2 + 4*random.NormFloat64()
		for i, length := range []float64{s1, gap, s2, beat - s1 - gap - s2} {
			iv := pcg.Interval{Start: start, End: start + milli(length), State: pcg.Cycle[i]}
			if exchanged {
				iv.State = iv.State.Exchanged()
			}
			list = append(list, iv)
			start = iv.End
		}
	}
	return list
}

func mustAudit(t testing.TB) *Auditor {
	t.Helper()
	a, err := NewAuditor(DefaultRules())
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Of exchanges planted in one recording of twelve of hearts at rest, 55 to 105
// beats a minute, at least 95 % are found and at most 2 % of the others are taken
// for exchanged: 400 people of 1 to 4 sites. Faster hearts have halves of nearly
// the same length: of theirs one in five is found, and only false alarms are
// bounded.
func TestAuditFindsPlantedExchanges(t *testing.T) {
	for _, tt := range []struct{ from, to, found float64 }{{55, 105, 0.95}, {105, 155, 0}} {
		random := rand.New(rand.NewPCG(31, 32))
		a := mustAudit(t)
		planted := map[string]bool{}
		total := 0
		for p := range 400 {
			rate, scatter := tt.from+(tt.to-tt.from)*random.Float64(), random.NormFloat64()
			for site := range 1 + random.IntN(4) {
				id := fmt.Sprintf("p%03d-%d", p, site)
				exchanged := random.IntN(12) == 0
				if exchanged {
					planted[id] = true
				}
				total++
				here := rate * (1 + 0.04*random.NormFloat64())
				a.Add(Case{Recording: id, Person: fmt.Sprint(p), Reference: fromIntervals(heart(random, here, scatter, exchanged)), Length: 30 * time.Second}, nil)
			}
		}
		found, wrong := map[string]bool{}, map[string]bool{}
		for _, f := range a.Audit().Findings {
			if f.Reason != ExchangedByRate && f.Reason != ExchangedBySites {
				continue
			}
			if planted[f.Recording] {
				found[f.Recording] = true
			} else {
				wrong[f.Recording] = true
			}
		}
		t.Logf("%g to %g a minute: %d of %d planted found; %d of %d others listed", tt.from, tt.to, len(found), len(planted), len(wrong), total-len(planted))
		if float64(len(found)) < tt.found*float64(len(planted)) {
			t.Errorf("%g to %g a minute: %d of %d planted exchanges found, want %g", tt.from, tt.to, len(found), len(planted), tt.found)
		}
		if len(wrong)*100 > 2*(total-len(planted)) {
			t.Errorf("%g to %g a minute: %d of %d others listed, want at most 2 %%", tt.from, tt.to, len(wrong), total-len(planted))
		}
	}
}

func TestAuditFindings(t *testing.T) {
	whole := beats(500*ms, 6)
	edit := func(f func(list []pcg.Interval) []pcg.Interval) []pcg.Interval { return f(shifted(whole, 0)) }
	tests := []struct {
		name      string
		reference []pcg.Interval
		want      string // of the only finding; empty for none
	}{
		{"nothing wrong", whole, ""},
		{"order", edit(func(l []pcg.Interval) []pcg.Interval { l[5].State = pcg.Diastole; return l }), "broken order: diastole follows S1 at 1.400 s, 2 places"},
		{"gap", edit(func(l []pcg.Interval) []pcg.Interval { l[7].End -= 31 * ms; return l }), "gaps: no annotation for 31 ms at 2.069 s, 1 places"},
		{"gap that is closed", edit(func(l []pcg.Interval) []pcg.Interval { l[7].End -= 30 * ms; return l }), ""},
		{"long sound", edit(func(l []pcg.Interval) []pcg.Interval {
			l[8].End += 201 * ms
			l[9].Start = l[8].End
			l[9].End += 2 * ms
			l[10].Start += 2 * ms
			return l
		}),
			"out of range: sound of 301 ms at 2.100 s, 1 places"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := mustAudit(t)
			a.Add(Case{Recording: "r", Person: "p", Reference: fromIntervals(tt.reference), Length: 10 * time.Second}, nil)
			got := ""
			for _, f := range a.Audit().Findings {
				got += fmt.Sprintf("%v: %s, %d places", f.Reason, f.Evidence, f.Count)
			}
			if got != tt.want {
				t.Errorf("found %q, want %q", got, tt.want)
			}
		})
	}
}

func TestAuditAgainstAllMethods(t *testing.T) {
	reference := beats(500*ms, 6)
	late := shifted(reference, 150*ms)
	for _, tt := range []struct {
		name        string
		predictions []Prediction
		want        bool
	}{
		{"two agree against it", []Prediction{{Intervals: late}, {Intervals: shifted(late, 10*ms)}}, true},
		{"one alone", []Prediction{{Intervals: late}}, false},
		{"one agrees with it", []Prediction{{Intervals: late}, {Intervals: late}, {Intervals: reference}}, false},
		{"all differ", []Prediction{{Intervals: late}, {Intervals: shifted(reference, -150*ms)}}, false},
	} {
		a := mustAudit(t)
		a.Add(Case{Recording: "r", Reference: fromIntervals(reference), Length: 10 * time.Second}, tt.predictions)
		audit := a.Audit()
		if got := audit.ByReason[AgainstAllMethods.String()] == 1; got != tt.want {
			t.Errorf("%s: listed %v, want %v: %+v", tt.name, got, tt.want, audit.Findings)
		}
	}
}

func TestAuditAgainstOtherSites(t *testing.T) {
	random := rand.New(rand.NewPCG(41, 42))
	a := mustAudit(t)
	for i, exchanged := range []bool{false, true, false} { // too fast to tell by rate
		a.Add(Case{Recording: fmt.Sprint("site ", i), Person: "p", Reference: fromIntervals(heart(random, 122, -2, exchanged)), Length: 10 * time.Second}, nil)
	}
	audit := a.Audit()
	if len(audit.Findings) != 1 || audit.Findings[0].Recording != "site 1" || audit.Findings[0].Reason != ExchangedBySites {
		t.Errorf("findings %+v, want the second site exchanged", audit.Findings)
	}
	var b bytes.Buffer
	if err := audit.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "exchanged, by other sites: 1 recording\n  site 1") {
		t.Errorf("text:\n%s", b.String())
	}
}

func TestAuditDoesNotJudgeEmptyReferences(t *testing.T) {
	a := mustAudit(t)
	a.Add(Case{Recording: "r"}, nil)
	if audit := a.Audit(); audit.Recordings != 0 || len(audit.Findings) != 0 {
		t.Errorf("%+v", audit)
	}
}
