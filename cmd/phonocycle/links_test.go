package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every command that reads a data set can follow links.
func TestFollowLinksEverywhere(t *testing.T) {
	for _, c := range newRoot().Commands() {
		if (c.Flags().Lookup("layout") == nil) != (c.Flags().Lookup("follow-links") == nil) {
			t.Errorf("%s: has one of --layout and --follow-links", c.Name())
		}
	}
}

// A data set of links is read with the flag, or with the key of the run
// configuration, and the plan says so.
func TestFollowLinks(t *testing.T) {
	dir := t.TempDir()
	data, store, out, config := filepath.Join(dir, "data"), filepath.Join(dir, "store.wav"), filepath.Join(dir, "out"), filepath.Join(dir, "c.yaml")
	if err := os.Mkdir(data, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(store, pcm(2000, make([]int16, 4000), 8000), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(store, filepath.Join(data, "x.wav")); err != nil {
		t.Skip(err)
	}
	if err := os.WriteFile(config, []byte("inputs:\n- {data: '"+data+"', layout: plain, follow-links: true}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		args   []string
		follow bool
	}{
		{[]string{"--data", data, "--layout", "plain"}, false},
		{[]string{"--data", data, "--layout", "plain", "--follow-links"}, true},
		{[]string{"--config", config}, true},
		{[]string{"--config", config, "--follow-links=false"}, false},
	} {
		_, stdout, stderr := call(t, append([]string{"scan"}, tt.args...)...)
		want := "symbolic links  1 to files that are read\n"
		if !tt.follow {
			want = "x.wav: symbolic link to " + store + ", outside the data root: not read: give --follow-links to read it"
		}
		if !strings.Contains(stdout, want) {
			t.Errorf("scan %q lacks %q:\n%s%s", tt.args, want, stdout, stderr)
		}
	}
	_, _, stderr := call(t, "segment", "--config", config, "--method", "shannon-peaks", "--out", out)
	for _, name := range []string{"plan.json", "manifest.json"} {
		var plan struct {
			Config struct {
				Inputs []struct {
					FollowLinks bool `json:"follow_links"`
				} `json:"inputs"`
			} `json:"config"`
		}
		content, err := os.ReadFile(filepath.Join(out, name))
		if err == nil {
			err = json.Unmarshal(content, &plan)
		}
		if err != nil || len(plan.Config.Inputs) != 1 || !plan.Config.Inputs[0].FollowLinks {
			t.Errorf("%s: %+v, %v\n%s", name, plan, err, stderr)
		}
	}
}
