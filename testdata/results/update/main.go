// Command update writes the figures of the published studies into the documents that
// quote them. It is run by "make results" in the root of the project.
package main

import (
	"bytes"
	"fmt"
	"os"

	"phonocycle/testdata/results"
)

func main() {
	for _, path := range results.Documents {
		if err := update(path); err != nil {
			fmt.Fprintf(os.Stderr, "update: %s: %v\n", path, err)
			os.Exit(1)
		}
	}
}

// update fills one document, and says if that changed it.
func update(path string) error {
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	filled, err := results.Fill(old, results.Files)
	if err != nil || bytes.Equal(old, filled) {
		return err
	}
	fmt.Println("new figures in", path)
	return os.WriteFile(path, filled, 0o644)
}
