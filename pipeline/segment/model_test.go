package segment

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func exampleModel() *Model {
	return &Model{
		Method: "logistic-hsmm", DataSet: "circor 1.0.3", People: []string{"b", "a", "b"}, Recordings: 3,
		Audio: []AudioFile{newAudioFile([]byte("second")), newAudioFile([]byte("first")), newAudioFile([]byte("second"))},
		Date:  "2022-05-01", Tool: "phonocycle test",
		Score:  &ModelScore{Folds: 10, Anchor: "centre", ToleranceMS: 60, F1: 0.5},
		Params: json.RawMessage(`{"weights": [1, 2.5e-3], "note": "a<b"}`),
	}
}

func TestModelRoundTrip(t *testing.T) {
	m := exampleModel()
	file, err := m.Marshal()
	if err != nil {
		t.Fatal(err)
	}
	got, err := ParseModel(file, "logistic-hsmm")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"a", "b"}, got.People); diff != "" {
		t.Errorf("people (-want +got):\n%s", diff)
	}
	if !got.Knows("a") || got.Knows("c") {
		t.Error("Knows does not tell the people learnt from")
	}
	want := []AudioFile{newAudioFile([]byte("second")), newAudioFile([]byte("first"))}
	slices.SortFunc(want, AudioFile.compare)
	if diff := cmp.Diff(want, got.Audio); diff != "" {
		t.Errorf("audio (-want +got):\n%s", diff)
	}
	again, err := got.Marshal()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(file, again) {
		t.Errorf("a model read and written differs:\n%s", cmp.Diff(string(file), string(again)))
	}
	// White space is no part of a model.
	var compact bytes.Buffer
	if err := json.Compact(&compact, file); err != nil {
		t.Fatal(err)
	}
	if _, err := ParseModel(compact.Bytes(), ""); err != nil {
		t.Errorf("compact file: %v", err)
	}
}

func hexDigest(content string) string { return newAudioFile([]byte(content)).Digest }

func TestModelRefusals(t *testing.T) {
	file, err := exampleModel().Marshal()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, from, to, method string
		want                   error
	}{
		{"other version", `"version": 3`, `"version": 1`, "", errModelVersion},
		{"version missing", `"version": 3,`, ``, "", errModelVersion},
		{"parameter changed", `2.5e-3`, `2.6e-3`, "", errModelDigest},
		{"person removed", `"a",`, ``, "", errModelDigest},
		{"audio without its size", ` 6 `, ` `, "", nil},
		{"audio with half a digest", hexDigest("first"), hexDigest("first")[:32], "", nil},
		{"other method", ``, ``, "conv-hsmm", errModelMethod},
		{"unknown field", `"method"`, `"mode": 1, "method"`, "", nil},
		{"cut short", `}`, ``, "", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			changed := strings.Replace(string(file), c.from, c.to, 1)
			_, err := ParseModel([]byte(changed), c.method)
			if err == nil || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("error %v, want %v", err, c.want)
			}
		})
	}
}

// newAudioFile identifies a file by its content.
func newAudioFile(content []byte) AudioFile {
	sum := sha256.Sum256(content)
	return AudioFile{hex.EncodeToString(sum[:]), int64(len(content)), AudioStartOf(content)}
}
