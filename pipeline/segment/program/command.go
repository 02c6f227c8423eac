package program

import (
	"errors"
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"phonocycle/pipeline/yamlcheck"
)

// What stands in the words of a command for what is known when it is started.
const (
	modelPlace      = "{model}"       // the file of the model
	examplesPlace   = "{examples}"    // the folder of the examples
	optionsPlace    = "{options}"     // the options as JSON
	fitOptionsPlace = "{fit-options}" // the options of the fit as JSON
)

// places are all of them.
var places = []string{modelPlace, examplesPlace, optionsPlace, fitOptionsPlace}

// inBraces is a word that looks as if it were one of them.
var inBraces = regexp.MustCompile(`^\{[A-Za-z_ -]+\}$`)

// checkCommand reports what is wrong with a command that needs and may have the given
// places.
func checkCommand(key string, words []string, needs ...string) (problems []*yamlcheck.KeyError) {
	fail := func(key, format string, args ...any) {
		problems = append(problems, &yamlcheck.KeyError{Key: key, Err: fmt.Errorf(format, args...)})
	}
	if len(words) == 0 || words[0] == "" {
		fail(key, "want a command and its arguments as a list, such as [python3, method.py]")
		return problems
	}
	for i, word := range words {
		if strings.ContainsRune(word, 0) {
			fail(fmt.Sprintf("%s[%d]", key, i), "no argument can hold a zero byte")
		}
		if inBraces.MatchString(word) && !slices.Contains(places, word) {
			fail(fmt.Sprintf("%s[%d]", key, i), "%s is unknown here: there are %s", word, strings.Join(places, ", "))
		}
	}
	for _, place := range places {
		has := uses(words, place)
		switch needed := slices.Contains(needs, place); {
		case needed && !has:
			fail(key, "the command does not use %s", place)
		case has && !needed:
			fail(key, "%w", refusal(place))
		}
	}
	return problems
}

// refusal says why a command cannot use what it does.
func refusal(place string) error {
	switch place {
	case modelPlace:
		return errors.New("there is no {model} without a command for fit")
	case examplesPlace:
		return errors.New("{examples} belongs to the command for fit")
	case optionsPlace:
		return errors.New("{options} belongs to the command for segment, and the file must list options with their default values")
	}
	return errors.New("{fit-options} belongs to the command for fit, and the file must list fit-options with their default values")
}

func uses(words []string, place string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, place) })
}

// filled returns a function that fills in the words of a command, for a private
// folder.
func filled(words []string, options, fitOptions []byte) func(folder string) []string {
	return func(folder string) []string {
		r := strings.NewReplacer(
			modelPlace, filepath.Join(folder, modelName), examplesPlace, filepath.Join(folder, examplesName),
			optionsPlace, string(options), fitOptionsPlace, string(fitOptions),
		)
		list := make([]string, len(words))
		for i, w := range words {
			list[i] = r.Replace(w)
		}
		return list
	}
}
