package synth_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"phonocycle/pipeline/synth"
)

// A minute at 72 beats per minute, with pink noise 20 dB below the heart.
func ExampleRender() {
	heart := synth.NewHeart(72, synth.RestingWomen, 1)
	r, err := synth.Render(heart, time.Minute, 4000, synth.WithNoise(synth.Pink, 20))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(len(r.Samples), "samples,", len(r.Truth), "intervals")
	fmt.Println(r.Truth[0])
	fmt.Println(r.Truth[1])
	// Output:
	// 240000 samples, 291 intervals
	// diastole [0.000 s, 0.009 s)
	// S1 [0.009 s, 0.122 s)
}

// The scenario in the package documentation can be read and written.
func TestDocumentedScenario(t *testing.T) {
	page, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile(`(?m)^//\tname: trial(.*\n//.*)*`).Find(page)
	var text strings.Builder
	for line := range strings.Lines(string(block)) {
		code, indented := strings.CutPrefix(line, "//\t")
		if !indented {
			break
		}
		text.WriteString(code)
	}
	s, err := synth.ParseScenario("doc.go", []byte(text.String()))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := s.Write(t.Context(), dir, 1); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "recordings", "a1_mitral.wav")); err != nil {
		t.Error(err)
	}
}
