package main

import (
	"errors"

	"github.com/spf13/cobra"

	"phonocycle/configs"
	"phonocycle/pipeline/dataset"
)

func newLayout() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "layout [NAME|FILE]",
		Short: "Print a layout, an example of one, or the meaning of the keys",
		Long: `A layout is a YAML file that says where the recordings of a data set lie, what their
names mean, and how labels and reference annotations are written.

With a name, prints a built-in layout. With a file, checks it, lists all its errors,
and prints it if there are none. --example prints a commented layout to begin with,
which reads what the layout plain reads. --keys explains every key, and goes through
a data set in folders by person.`,
		Example: `  phonocycle layout --example > mine.yaml
  phonocycle layout mine.yaml
  phonocycle layout --keys
  phonocycle layout circor`,
		Args: cobra.ArbitraryArgs,
	}
	example := cmd.Flags().Bool("example", false, "print a commented layout to begin with")
	keys := cmd.Flags().Bool("keys", false, "print the meaning of all keys, as Markdown")
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		var text []byte
		var err error
		switch {
		case *example && !*keys && len(args) == 0:
			text, err = configs.FS.ReadFile("layouts/example/mine.yaml")
		case *keys && !*example && len(args) == 0:
			text, err = configs.FS.ReadFile("layouts/README.md")
		case len(args) == 1 && !*keys && !*example:
			var l *dataset.Layout
			if l, err = dataset.LoadLayout(args[0]); err == nil {
				text = l.Text
			}
		default:
			return usageError{errors.New("give one of --example, --keys, the name of a layout, or a layout file")}
		}
		if err != nil {
			return err
		}
		_, err = cmd.OutOrStdout().Write(text)
		return err
	}
	return cmd
}
