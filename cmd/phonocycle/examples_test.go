package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"phonocycle/pipeline/dataset"
)

// The commands that README.md and the help texts show exist, with their flags,
// layouts and configurations.
func TestShownCommandsExist(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{"README.md": string(readme)}
	for _, c := range newRoot().Commands() {
		texts[c.Name()+" --help"] = c.Example
	}
	shown := 0
	for where, text := range texts {
		for _, line := range regexp.MustCompile(`(?m)^ {2,}phonocycle (\S.*)$`).FindAllStringSubmatch(text, -1) {
			command, _, _ := strings.Cut(line[1], ">")
			if where == "README.md" && !strings.Contains(command, "--") {
				continue // the table of commands
			}
			shown++
			checkShown(t, where, strings.Fields(command))
		}
	}
	if shown < 10 {
		t.Errorf("only %d commands were found", shown)
	}
}

// checkShown parses a command and looks up the names that its flags have.
func checkShown(t *testing.T, where string, args []string) {
	t.Helper()
	root := newRoot()
	c, rest, err := root.Find(args)
	if err != nil || c == root {
		t.Errorf("%s: phonocycle %s: no such command (%v)", where, strings.Join(args, " "), err)
		return
	}
	if err := c.ParseFlags(rest); err != nil {
		t.Errorf("%s: phonocycle %s: %v", where, strings.Join(args, " "), err)
		return
	}
	if layouts, err := c.Flags().GetStringArray("layout"); err == nil {
		for _, name := range layouts {
			if _, err := dataset.LoadLayout(name); err != nil && filepath.Ext(name) == "" {
				t.Errorf("%s: %v", where, err)
			}
		}
	}
}
