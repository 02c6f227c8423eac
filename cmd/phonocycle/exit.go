package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/pipeline/yamlcheck"
)

// The exit statuses.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
	exitPartly = 3
)

// errPartly means that the work is done but some recordings failed.
var errPartly = errors.New("some recordings failed")

// usageError marks an error in how the command was called.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

// misuse returns err as a usageError that points to the help of cmd.
func misuse(cmd *cobra.Command, err error) error {
	return usageError{fmt.Errorf("%w; see '%s --help'", err, cmd.CommandPath())}
}

// message returns what an error says to the user. Of an interrupt it says that,
// in place of what package context says.
func message(err error) string {
	text := err.Error()
	if !errors.Is(err, context.Canceled) {
		return text
	}
	text = strings.ReplaceAll(text, ": "+context.Canceled.Error(), "")
	switch {
	case text == context.Canceled.Error():
		return "interrupted"
	case strings.Contains(text, "interrupted"):
		return text
	}
	return "interrupted: " + text
}

// explainFlag says what is wrong with an option, in place of what package pflag
// and the decoders of values say.
func explainFlag(cmd *cobra.Command, err error) error {
	var (
		unknown *pflag.NotExistError
		missing *pflag.ValueRequiredError
		invalid *pflag.InvalidValueError
	)
	switch {
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() == "":
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := yamlcheck.Nearest(unknown.GetSpecifiedName(), names); near != "" {
			return fmt.Errorf("unknown option --%s: did you mean --%s?", unknown.GetSpecifiedName(), near)
		}
		return fmt.Errorf("unknown option --%s: there are --%s", unknown.GetSpecifiedName(), strings.Join(names, ", --"))
	case errors.As(err, &unknown):
		return fmt.Errorf("unknown option -%s: options are written in full, as in --data", unknown.GetSpecifiedShortnames())
	case errors.As(err, &missing):
		return fmt.Errorf("option --%s has no value: write --%s %s", missing.GetFlag().Name, missing.GetFlag().Name, valueName(missing.GetFlag()))
	case errors.As(err, &invalid):
		return fmt.Errorf("--%s %s: %s", invalid.GetFlag().Name, invalid.GetValue(), wantedValue(invalid))
	}
	return fmt.Errorf("options cannot be read: %w: write --name value", err)
}

// valueName names the value of a flag as its help does.
func valueName(f *pflag.Flag) string {
	name, _ := pflag.UnquoteUsage(f)
	return strings.ToUpper(name)
}

// wantedValue says what a flag takes.
func wantedValue(err *pflag.InvalidValueError) string {
	tooLarge := errors.Is(err, strconv.ErrRange)
	switch kind := err.GetFlag().Value.Type(); {
	case kind == "int" && tooLarge, kind == "uint64" && tooLarge, kind == "float64" && tooLarge:
		return "the number is too large"
	case kind == "int":
		return "want a whole number"
	case kind == "uint64":
		return "want a whole number of 0 or more"
	case kind == "float64":
		return "want a number"
	case kind == "bool":
		return "want true or false, or the option alone for true"
	case kind == "duration":
		return "want a time with its unit, such as 5s or 2m"
	}
	return errors.Unwrap(err).Error()
}
