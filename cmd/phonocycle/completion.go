package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"phonocycle/eval/tabular"
	"phonocycle/pipeline/config"
	"phonocycle/pipeline/dataset"
	"phonocycle/pipeline/dictionary"
	"phonocycle/pipeline/segment"
	"phonocycle/pipeline/table"
)

func newCompletion() *cobra.Command {
	scripts := map[string]func(*cobra.Command, io.Writer) error{
		"bash":       func(root *cobra.Command, w io.Writer) error { return root.GenBashCompletionV2(w, true) },
		"zsh":        (*cobra.Command).GenZshCompletion,
		"fish":       func(root *cobra.Command, w io.Writer) error { return root.GenFishCompletion(w, true) },
		"powershell": (*cobra.Command).GenPowerShellCompletionWithDesc,
	}
	shells := []string{"bash", "zsh", "fish", "powershell"}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Print a script that completes commands, flags and names in a shell",
		Long: `Prints a script for bash, zsh, fish or powershell. The shell then completes commands,
flags, folders, and the names of methods, models, layouts, baselines and columns.`,
		Example: `  phonocycle completion bash > phonocycle.bash
  phonocycle completion zsh > _phonocycle`,
		Args:      cobra.ArbitraryArgs,
		ValidArgs: shells,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 || scripts[args[0]] == nil {
				return usageError{fmt.Errorf("give one shell: %s; in bash then run: source <(phonocycle completion bash)", strings.Join(shells, ", "))}
			}
			return scripts[args[0]](cmd.Root(), dataOutput(cmd))
		},
	}
}

// flagWords are the values that flags take, by their names.
var flagWords = map[string]func() []string{
	"align":            words(config.AlignCycle, config.AlignFixed),
	"anchor":           words("centre", "onset", "offset"),
	"columns":          dictionary.Names,
	"config":           config.Names,
	"layout":           dataset.LayoutNames,
	"method":           methodNames,
	"model":            func() []string { return append([]string{"builtin"}, config.ModelNames()...) },
	"people":           config.PeopleNames,
	"source":           words(table.Predicted, table.Reference),
	"training-overlap": words(string(config.RefuseOverlap), string(config.LeaveOutOverlap), string(config.ScoreOverlap)),
	"unread-tables":    words(string(config.RefuseUnreadTables), string(config.AcceptUnreadTables)),
	"where":            dictionary.Names,
}

func words(list ...string) func() []string { return func() []string { return list } }

func methodNames() []string {
	var names []string
	for _, m := range segment.Methods() {
		names = append(names, m.Name)
	}
	return names
}

// argumentWords are the arguments that commands take, by the names of the commands.
var argumentWords = map[string]func() []string{
	"dictionary": dictionary.Names,
	"layout":     dataset.LayoutNames,
	"methods":    func() []string { return append(methodNames(), config.Names()...) },
}

// completeValues makes shells complete the values of flags and arguments.
func completeValues(root *cobra.Command) {
	for _, cmd := range root.Commands() {
		if list := argumentWords[cmd.Name()]; list != nil {
			cmd.ValidArgsFunction = completion(list, false)
		}
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			if complete := valuesOf(cmd, f); complete != nil {
				_ = cmd.RegisterFlagCompletionFunc(f.Name, complete) // fails for unknown flags alone
			}
		})
	}
}

// valuesOf returns how the value of a flag is completed, nil where the shell completes names of files.
func valuesOf(cmd *cobra.Command, f *pflag.Flag) cobra.CompletionFunc {
	kind, _ := pflag.UnquoteUsage(f)
	switch {
	case f.Value.Type() == "format":
		return completion(words(string(tabular.Markdown), string(tabular.LaTeX), string(tabular.CSV), string(tabular.HTML), string(tabular.Text)), false)
	case cmd.Name() == "windows" && f.Name == "format":
		return completion(words(config.FormatParquet, config.FormatNumPy), false)
	case flagWords[f.Name] != nil:
		_, list := f.Value.(pflag.SliceValue)
		return completion(flagWords[f.Name], list)
	case kind == "folder":
		return func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		}
	}
	return nil
}

// completion completes words, in a list the one behind the last comma. Where none
// fits, the shell goes on to the names of files.
func completion(list func() []string, isList bool) cobra.CompletionFunc {
	return func(_ *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
		before := ""
		if i := strings.LastIndexByte(begun, ','); isList && i >= 0 {
			before = begun[:i+1]
		}
		var fits []cobra.Completion
		for _, word := range list() {
			if strings.HasPrefix(before+word, begun) && !slices.Contains(fits, before+word) {
				fits = append(fits, before+word)
			}
		}
		return fits, cobra.ShellCompDirectiveDefault
	}
}
