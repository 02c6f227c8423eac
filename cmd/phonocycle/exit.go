package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
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
