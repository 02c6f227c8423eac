package tabular

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

func example() *Table {
	type row struct {
		name         string
		n            int
		v, low, high float64
	}
	nan := math.NaN()
	t := Fill(Table{Name: "example", Title: "Title", Note: "Note."}, []row{
		{"[a] -- b*", 1, -0.5, -0.75, 0.25}, {"", 2, 0.5, nan, nan}, {"c", 3, nan, 0, 1},
	},
		Words("Name", func(r row) string { return r.name }),
		Counts("N", func(r row) int { return r.n }).On(Hidden),
		Intervals("Value", Signed.In("ms"), func(r row) (float64, float64, float64) { return 10 * r.v, 10 * r.low, 10 * r.high }),
		Numbers("Same", Percent, func(r row) float64 { return r.v }))
	return &t
}

// Each format keeps its own marks in names from taking effect, has a sign for what
// is missing, and a minus where it can.
func TestFormats(t *testing.T) {
	for _, tt := range []struct {
		format Format
		want   []string
	}{
		{Text, []string{"Title\nName       ", "[a] -- b*  -5.0 (-7.5 to +2.5)  -50.0\n", "–                         +5.0   50.0\n"}},
		{Markdown, []string{"| Name | N | Value | Same |\n| :-- | --: | --: | --: |\n", `| \[a\] -- b\* | 1 | -5.0 (-7.5 to +2.5) | -50.0 |`, "| c | 3 | – | – |"}},
		{LaTeX, []string{"{lrrr}", `{[}a] -{}- b{*} & 1 & $-$5.0 ($-$7.5 to +2.5) & $-$50.0 \\`, `c & 3 & -- & -- \\`}},
		{CSV, []string{"name,n,value_ms,value_low_ms,value_high_ms,same_percent\n", "[a] -- b*,1,-5.0,-7.5,2.5,-50.0\n", ",2,5.0,,,50.0\n", "c,3,,,,\n"}},
		{HTML, []string{`<td class="n" data-value="-5">−5.0 <span class="quiet">(−7.5 to +2.5)</span></td>`, `<td class="n" data-value="">–</td>`, `<th scope="row">[a] -- b*</th>`}},
	} {
		var b bytes.Buffer
		if err := example().Write(&b, tt.format); err != nil {
			t.Fatal(err)
		}
		for _, want := range tt.want {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s has no %q:\n%s", tt.format, want, b.String())
			}
		}
	}
	if strings.Contains(text(t), " N ") {
		t.Errorf("a hidden column is on the screen:\n%s", text(t))
	}
	if err := example().Write(new(bytes.Buffer), "word"); err == nil || !strings.Contains(err.Error(), "want markdown, latex, csv, html or text") {
		t.Errorf("an unknown format: %v", err)
	}
}

func text(t *testing.T) string {
	var b bytes.Buffer
	if err := example().Write(&b, Text); err != nil {
		t.Fatal(err)
	}
	return b.String()
}
