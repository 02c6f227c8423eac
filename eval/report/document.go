package report

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"html/template"
	"strings"

	"phonocycle/eval/tabular"
)

// caution is shown on every page.
const caution = "Research use only: phonocycle measures intervals and spectra and names no disease. " +
	"Its output is not for diagnosis; clinical questions go to licensed practitioners."

//go:embed assets
var assets embed.FS

var (
	style  = asset("assets/style.css")
	script = asset("assets/player.js") + asset("assets/page.js")

	templates = template.Must(template.New("").Funcs(template.FuncMap{
		"bounds":   bounds,
		"number":   number,
		"player":   newPlayer,
		"sort":     sortKey,
		"count":    tabular.Plural,
		"sides":    func() []string { return []string{"right", "left"} },
		"states":   func() []string { return []string{"S1", "systole", "S2", "diastole"} },
		"sentence": sentence,
		"spaces":   func(s string) string { return strings.ReplaceAll(s, "_", " ") },
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

// newDocument returns a document with the shared style and script and those of own
// files, by their extension.
func newDocument(title string, own ...string) document {
	style, script := style, script
	for _, name := range own {
		if strings.HasSuffix(name, ".css") {
			style += asset("assets/" + name)
		} else {
			script += asset("assets/" + name)
		}
	}
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
