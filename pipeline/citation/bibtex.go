package citation

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Entry is an entry of a BibTeX file.
type Entry struct {
	Kind   string // article, inproceedings or misc
	Key    string
	Fields []Field // those with a value are written
}

// Field is a field of an entry. Its value is in the form of BibTeX.
type Field struct{ Name, Value string }

// BibTeX returns the work as an entry. Its key is the family name of the first author
// and the year.
func (w Work) BibTeX() Entry {
	names := make([]string, len(w.Authors))
	first := w.Title
	for i, a := range w.Authors {
		family, initials := splitName(a)
		if i == 0 {
			first = family
		}
		switch {
		case a == others:
			names[i] = others
		case initials == "":
			names[i] = "{" + escape(family) + "}"
		default:
			names[i] = escape(family) + ","
			for _, letter := range norm.NFC.String(initials) {
				names[i] += " " + escape(string(letter)) + "."
			}
		}
	}
	var sortKey string // in place of authors
	if len(names) == 0 {
		sortKey = escape(w.Title)
	}
	kind := "article"
	switch {
	case w.Proceedings != "":
		kind = "inproceedings"
	case w.Journal == "":
		kind = "misc"
	}
	return Entry{kind, key(first) + fmt.Sprint(w.Year), []Field{
		{"key", sortKey},
		{"author", strings.Join(names, " and ")},
		{"title", title(w.Title)},
		{"journal", escape(w.Journal)},
		{"booktitle", escape(w.Proceedings)},
		{"year", fmt.Sprint(w.Year)},
		{"volume", escape(w.Volume)},
		{"number", escape(w.Number)},
		{"pages", strings.ReplaceAll(escape(w.Pages), "-", "--")},
		{"doi", doi(w.DOI)},
	}}
}

// Misc returns an entry for what is cited by a text: a data set, or a method of a user.
// Without a DOI it takes that of the text.
func Misc(name, of, note, number string) Entry {
	if number == "" {
		number = strings.TrimRight(doiInText.FindString(note), ".;)")
	}
	return Entry{"misc", key(name), []Field{
		{"key", escape(name)}, {"title", "{" + escape(of) + "}"}, {"note", escape(note)}, {"doi", doi(number)},
	}}
}

// Write returns entries as a file. Entries that are the same stand once; entries with
// the same key and other fields get keys with a letter.
func Write(entries []Entry) string {
	var b strings.Builder
	var texts []string
	seen := map[string]int{}
next:
	for _, e := range entries {
		body := e.body()
		for _, t := range texts {
			if t == e.Key+body {
				continue next
			}
		}
		texts = append(texts, e.Key+body)
		if n := seen[e.Key]; n > 0 {
			seen[e.Key]++
			e.Key += string(rune('a' + n%26))
		}
		seen[e.Key]++
		if b.Len() > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "@%s{%s%s}\n", e.Kind, e.Key, body)
	}
	return b.String()
}

func (e Entry) body() string {
	var b strings.Builder
	for _, f := range e.Fields {
		if f.Value != "" && f.Value != "{}" {
			fmt.Fprintf(&b, ",\n  %s = {%s}", f.Name, f.Value)
		}
	}
	b.WriteString("\n")
	return b.String()
}

// key keeps the letters and digits of a name, in ASCII and small.
func key(name string) string {
	k := strings.Map(func(r rune) rune {
		if r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r)) {
			return unicode.ToLower(r)
		}
		return -1
	}, norm.NFD.String(name))
	if k == "" {
		return "reference"
	}
	return k
}

// title escapes a title and keeps its capitals, which most styles make small, except
// that of the first word.
func title(text string) string {
	words := strings.Fields(text)
	for i, w := range words {
		from := w
		if i == 0 {
			_, from, _ = strings.Cut(w, w[:1])
		}
		words[i] = escape(w)
		if strings.IndexFunc(from, unicode.IsUpper) >= 0 {
			words[i] = "{" + words[i] + "}"
		}
	}
	return strings.Join(words, " ")
}

var validDOI = regexp.MustCompile(`^10\.[0-9]{4,9}/[A-Za-z0-9./()_;:<>-]+$`)

var doiInText = regexp.MustCompile(`\b10\.[0-9]{4,9}/[A-Za-z0-9./()_;:<>-]+`)

// doi returns a DOI as it is, since styles put it into a link; nothing in place of what
// is no DOI.
func doi(text string) string {
	if !validDOI.MatchString(text) {
		return ""
	}
	return text
}

// accents are the combining characters of Unicode and the accents of LaTeX.
var accents = map[rune]string{
	'\u0300': "`", '\u0301': "'", '\u0302': "^", '\u0303': "~", '\u0304': "=", '\u0306': "u ", '\u0307': ".", '\u0308': `"`,
	'\u030a': "r ", '\u030b': "H ", '\u030c': "v ", '\u0323': "d ", '\u0327': "c ", '\u0328': "k ",
}

// marks are the other characters that LaTeX writes in its own way.
var marks = map[rune]string{
	'\\': `{\textbackslash}`, '{': `{\textbraceleft}`, '}': `{\textbraceright}`, '$': `\$`, '&': `\&`, '#': `\#`, '_': `\_`, '%': `\%`,
	'^': `{\textasciicircum}`, '~': `{\textasciitilde}`, '<': `{\textless}`, '>': `{\textgreater}`, '|': `{\textbar}`,
	'–': "--", '—': "---", '−': "$-$", '±': `$\pm$`, '×': `$\times$`, '·': `$\cdot$`, '≤': `$\leq$`, '≥': `$\geq$`, '→': `$\to$`, 'µ': `$\mu$`, 'μ': `$\mu$`, '°': `{\textdegree}`,
	'“': "``", '”': "''", '„': `{\quotedblbase}`, '‘': "`", '’': "'", '…': `{\ldots}`, '\u00a0': "~",
	'ß': `{\ss}`, 'ø': `{\o}`, 'Ø': `{\O}`, 'æ': `{\ae}`, 'Æ': `{\AE}`, 'œ': `{\oe}`, 'Œ': `{\OE}`, 'ł': `{\l}`, 'Ł': `{\L}`, 'ı': `{\i}`,
}

// escape writes text in the ASCII form of BibTeX. A character without one stays as it
// is, for a LaTeX that knows it.
func escape(text string) string {
	var b strings.Builder
	letters := []rune(norm.NFD.String(text))
	for i := 0; i < len(letters); i++ {
		r := letters[i]
		last := i
		for last+1 < len(letters) && unicode.Is(unicode.Mn, letters[last+1]) {
			last++
		}
		switch accent := accents[letters[last]]; {
		case last == i+1 && accent != "":
			fmt.Fprintf(&b, `{\%s%c}`, accent, r)
		case last > i:
			b.WriteString(norm.NFC.String(string(letters[i : last+1])))
		case marks[r] != "":
			b.WriteString(marks[r])
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
		i = last
	}
	return b.String()
}
