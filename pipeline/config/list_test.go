package config

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"phonocycle/configs"
)

func TestParseList(t *testing.T) {
	l, err := parseList("people", "folder/train.txt", []byte("\ufeff# people\r\n\n 12 \r\n! b c\n!12 \xe9"))
	if err != nil {
		t.Fatal(err)
	}
	want := []ListLine{{"12", false, 3}, {"b c", true, 4}, {`12 \xe9`, true, 5}}
	if l.Name != "train" || !slices.Equal(l.Lines, want) {
		t.Errorf("%+v, want %v", l, want)
	}
	for text, want := range map[string]string{
		"":                            "list of people p.txt: it holds no id",
		"# nobody\n\n":                "list of people p.txt: it holds no id",
		"a\nb\na\n":                   "list of people p.txt:3: a stands in line 1 already",
		"!a\n!a":                      "list of people p.txt:2: !a stands in line 1 already",
		"a\n\n!a\n":                   "list of people p.txt:3: a is named and excluded, see line 1",
		"a\n!\n":                      "list of people p.txt:2: an exclamation mark without an id",
		"a\x00":                       "list of people p.txt: it holds zero bytes",
		strings.Repeat("a", 5000):     "list of people p.txt:1: an id of 5000 bytes",
		strings.Repeat("#", 16<<20+1): "list of people p.txt: more than the 16 MiB",
	} {
		if _, err := parseList("people", "p.txt", []byte(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%.20q: %.200v, want %s", text, err, want)
		}
	}
	var many strings.Builder
	for i := range maxListIDs + 1 {
		many.WriteString(strconv.Itoa(i) + "\n")
	}
	if _, err := parseList("people", "p.txt", []byte(many.String())); err == nil || !strings.Contains(err.Error(), "p.txt:200001: more than 200000 ids") {
		t.Errorf("one id too many: %v", err)
	}
}

func TestListThatIsNoFile(t *testing.T) {
	for name, want := range map[string]string{
		t.TempDir():                            "is not a file",
		filepath.Join(t.TempDir(), "none.txt"): "--people",
		os.DevNull:                             "is not a file",
		"nobody":                               "no embedded list of people \"nobody\": have circor-development",
	} {
		if _, err := LoadPeople(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
}

// The embedded list names the people that every embedded model learnt from.
func TestDevelopmentPeopleAreThoseOfTheModels(t *testing.T) {
	l, err := LoadPeople("circor-development")
	if err != nil {
		t.Fatal(err)
	}
	var people []string
	for _, line := range l.Lines {
		people = append(people, line.ID)
		if line.Exclude {
			t.Errorf("line %d excludes", line.Number)
		}
	}
	slices.Sort(people)
	for _, name := range ModelNames() {
		content, err := configs.FS.ReadFile("models/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var m struct{ People []string }
		if err := json.Unmarshal(content, &m); err != nil {
			t.Fatal(err)
		}
		slices.Sort(m.People)
		if len(people) != 151 || !slices.Equal(people, m.People) {
			t.Errorf("model %s was fitted to %d people, and the list has %d others", name, len(m.People), len(people))
		}
	}
}

// FuzzList: a list is refused with its name, or each of its lines has an id of its
// own that can be printed.
func FuzzList(f *testing.F) {
	f.Add([]byte("# a\n1\n!2\r\n\xff\n"))
	f.Add([]byte("!\n"))
	f.Add([]byte("\xef\xbb\xbfa\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := parseList("recordings", "fuzz.txt", text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "list of recordings fuzz.txt:") {
				t.Errorf("error without a place: %v", err)
			}
			return
		}
		seen := map[string]bool{}
		for _, line := range l.Lines {
			if line.ID == "" || seen[line.ID] || strings.ContainsAny(line.ID, "\r\n") {
				t.Errorf("id %q", line.ID)
			}
			seen[line.ID] = true
		}
	})
}
