// Package citation holds publications in parts, and writes them as the text of a
// citation and as entries of a BibTeX file.
package citation

import (
	"fmt"
	"slices"
	"strings"
)

// Work is a publication.
type Work struct {
	Authors     []string `yaml:"authors" json:"authors"` // family name and initials, as in "Schmidt SE"; others at the end stands for more
	Title       string   `yaml:"title" json:"title"`     // in sentence case: later capitals are kept in BibTeX
	Journal     string   `yaml:"journal" json:"journal,omitempty"`
	Proceedings string   `yaml:"proceedings" json:"proceedings,omitempty"` // of a conference, in place of the journal
	Year        int      `yaml:"year" json:"year"`
	Volume      string   `yaml:"volume" json:"volume,omitempty"`
	Number      string   `yaml:"number" json:"number,omitempty"`
	Pages       string   `yaml:"pages" json:"pages,omitempty"` // as in 513-529
	DOI         string   `yaml:"doi" json:"doi,omitempty"`     // as in 10.1088/0967-3334/31/4/004
}

// others is the last author of a work with more authors than are named.
const others = "others"

// String returns the citation: authors, title,
// journal, year;volume(number):pages and DOI.
func (w Work) String() string {
	var b strings.Builder
	if len(w.Authors) > 0 {
		names := slices.Clone(w.Authors)
		if last := &names[len(names)-1]; *last == others {
			*last = "et al"
		}
		b.WriteString(strings.Join(names, ", ") + ". ")
	}
	fmt.Fprintf(&b, "%s. ", w.Title)
	if in := w.Journal + w.Proceedings; in != "" {
		b.WriteString(in + " ")
	}
	fmt.Fprint(&b, w.Year)
	if w.Volume != "" {
		b.WriteString(";" + w.Volume)
	}
	if w.Number != "" {
		b.WriteString("(" + w.Number + ")")
	}
	if w.Pages != "" {
		b.WriteString(":" + w.Pages)
	}
	b.WriteString(".")
	if w.DOI != "" {
		b.WriteString(" doi:" + w.DOI + ".")
	}
	return b.String()
}

// Text returns the citations of several works as one text.
func Text(works []Work) string {
	texts := make([]string, len(works))
	for i, w := range works {
		texts[i] = w.String()
	}
	return strings.Join(texts, " And: ")
}

// Short returns the authors and the year, as in "Liang et al. 1997".
func (w Work) Short() string {
	var families []string
	for _, a := range w.Authors {
		family, _ := splitName(a)
		families = append(families, family)
	}
	switch len(families) {
	case 0:
		return fmt.Sprint(w.Title, " ", w.Year)
	case 1:
		return fmt.Sprint(families[0], " ", w.Year)
	case 2:
		return fmt.Sprintf("%s and %s %d", families[0], families[1], w.Year)
	}
	return fmt.Sprintf("%s et al. %d", families[0], w.Year)
}

// splitName splits a name such as "Holst-Hansen C" into family name and initials. A
// last word that is no initials belongs to the family name, as that of an institute.
func splitName(name string) (family, initials string) {
	cut := strings.LastIndex(name, " ")
	if cut < 0 || strings.ToUpper(name[cut+1:]) != name[cut+1:] {
		return name, ""
	}
	return name[:cut], name[cut+1:]
}
