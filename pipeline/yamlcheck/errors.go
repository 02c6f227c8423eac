package yamlcheck

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/token"
)

// KeyError is what is wrong with the value of a key of a YAML file.
type KeyError struct {
	Key string // such as $.reference.kind
	Err error

	// Depends lists keys whose values may be the wrong ones, as of those that
	// declare a name.
	Depends []string

	token   *token.Token // where it stands; nil for the place of the key
	unknown string       // a key below Key that does not exist
}

func (e *KeyError) Error() string {
	if key := strings.TrimPrefix(strings.TrimPrefix(e.Key, "$"), "."); key != "" && e.unknown == "" {
		return key + ": " + e.Err.Error()
	}
	return e.Err.Error()
}

func (e *KeyError) Unwrap() error { return e.Err }

// mayBe reports whether the unknown key of p is a misspelling of a key.
func (e *KeyError) mayBe(key string) bool {
	name, below := strings.CutPrefix(key, e.Key+".")
	return e.unknown != "" && below && Nearest(e.unknown, []string{name}) == name
}

// within reports whether a key is another one or lies below it.
func within(key, in string) bool {
	return key == in || strings.HasPrefix(key, in+".") || strings.HasPrefix(key, in+"[")
}

// unknown says that a word is none of the known ones, and suggests one or lists
// them.
func unknown(what, word string, known []string) string {
	if near := Nearest(word, known); near != "" {
		return fmt.Sprintf("unknown %s %q: did you mean %q?", what, word, near)
	}
	if len(known) == 0 {
		return fmt.Sprintf("unknown %s %q: none is known here", what, word)
	}
	return fmt.Sprintf("unknown %s %q: there are %s", what, word, strings.Join(known, ", "))
}

// syntax turns an error of the YAML parser, which quotes several lines of the
// file in its own words, into one plain line with its place.
func syntax(name string, err error) error {
	var y yaml.Error
	if !errors.As(err, &y) || y.GetToken() == nil || y.GetToken().Position == nil {
		return fmt.Errorf("%s: cannot be read: %s", name, badForm)
	}
	at := y.GetToken().Position
	return fmt.Errorf("%s:%d:%d: %s", name, at.Line, at.Column, plain(y.GetMessage()))
}

const badForm = "write \"key: value\" with a space after the colon, indent with spaces, and put text that holds a colon or a # into quotes"

// plainForms are the messages of the parser that can be said in plainer words;
// all others become badForm.
var plainForms = []struct {
	message *regexp.Regexp
	plain   string
}{
	{regexp.MustCompile(`mapping key ("[^"]*") already defined at \[(\d+):\d+\]`), "the key $1 stands twice, first in line $2: remove one"},
	{regexp.MustCompile(`end token '\]' not found`), "a list that begins with [ has no ] at its end"},
	{regexp.MustCompile(`end token '\}'`), "keys that begin with { have no } at their end"},
	{regexp.MustCompile(`',' or '(.)' must be specified`), "a comma or $1 is missing here"},
	{regexp.MustCompile(`could not find '(.)' character`), "the $1 that belongs to this one is missing"},
	{regexp.MustCompile(`(single|double)-quoted text`), "a $1 quote that is not closed"},
	{regexp.MustCompile(`cannot start any token|tab character`), "a tab or another character that cannot stand here: indent with spaces, and put such text into quotes"},
	{regexp.MustCompile(`anchor|alias|tag`), "anchors, aliases and tags are not allowed: write the value out"},
}

func plain(message string) string {
	for _, form := range plainForms {
		if m := form.message.FindStringSubmatchIndex(message); m != nil {
			return string(form.message.ExpandString(nil, form.plain, message, m))
		}
	}
	return "cannot be read here: " + badForm
}
