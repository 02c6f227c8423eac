package train

import (
	"context"
	"fmt"
	"os"

	"phonocycle/pipeline/config"
	"phonocycle/pipeline/setup"
)

// CheckModel makes sure that the model in a file was fitted to the recordings to which
// Fit would fit it, as they are now.
func CheckModel(ctx context.Context, c config.Config, path string) error {
	run, err := setup.New(c, "fit", setup.Needs{Method: true, Fit: true})
	if err != nil {
		return err
	}
	defer run.Close()
	content, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("model: %w", err)
	}
	in := inputs{run: run}
	_, same, err := in.model(ctx, path, content, trainingPeople(run, noFold))
	if err == nil && !same {
		err = fmt.Errorf("%s was fitted to recordings that have changed since: restore them, or give another folder with --out", path)
	}
	return err
}
