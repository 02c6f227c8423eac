package report

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"strings"
	"time"

	"phonocycle/eval"
)

// caution is shown on every page.
const caution = "Research use only: phonocycle measures intervals and spectra and names no disease. " +
	"Its output is not for diagnosis; clinical questions go to licensed practitioners."

//go:embed assets
var assets embed.FS

var (
	style  = asset("assets/style.css")
	script = asset("assets/page.js")

	templates = template.Must(template.New("").Funcs(template.FuncMap{
		"percent": eval.Ratio.Percent,
		"bounds":  bounds,
		"number":  number,
		"fixed":   func(places int, v float64) string { return fmt.Sprintf("%.*f", places, v) },
		"sort":    sortKey,
		"count":   count,
		"short":   func(digest string) string { return digest[:min(len(digest), 16)] },
		"day":     func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") },
		"sides":   func() []string { return []string{"right", "left"} },
		"spaces":  func(s string) string { return strings.ReplaceAll(s, "_", " ") },
	}).ParseFS(assets, "assets/*.html"))
)

// asset returns an embedded file.
func asset(name string) string {
	content, err := assets.ReadFile(name)
	if err != nil {
		panic(err) // embedded above
	}
	return string(content)
}

// document is what every page has: style, script, and the policy that lets it
// load nothing and run only that script.
type document struct {
	PageTitle, Caution, Policy string
	Style                      template.CSS
	Script                     template.HTML
}

func newDocument(title string) document {
	digest := sha256.Sum256([]byte(script))
	return document{
		PageTitle: title,
		Caution:   caution,
		Policy: "default-src 'none'; img-src data:; media-src data:; style-src 'unsafe-inline'; script-src 'sha256-" +
			base64.StdEncoding.EncodeToString(digest[:]) + "'; base-uri 'none'; form-action 'none'",
		Style:  template.CSS(style),
		Script: template.HTML("<script>" + script + "</script>"),
	}
}
