package synth

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

const oneRow = `name: trial
title: Trial
rate: 4000
people:
  - id: a1
    age: 40
    sex: male
    heart-rate: 70
    recordings:
      - {site: mitral, duration: 5s, noise: pink, snr: 20}
`

// column matches the column in the place of an error.
var column = regexp.MustCompile(`(t\.yaml:\d+):\d+`)

// An error in a scenario names the file and the line.
func TestScenarioErrors(t *testing.T) {
	tests := []struct{ name, old, new, want string }{
		{"unknown key", "    age: 40\n", "    age: 40\n    mood: fair\n", `t.yaml:7: unknown key "mood"`},
		{"unknown key of a recording", "snr: 20", "snr: 20, hum: 50", `t.yaml:10: unknown key "hum"`},
		{"unknown key above", "title: Trial", "titel: Trial", `t.yaml:2: unknown key "titel": did you mean "title"?`},
		{"key twice", "    age: 40\n", "    age: 40\n    age: 41\n", "t.yaml:7: "},
		{"not a number", "age: 40", "age: forty", `t.yaml:6: people[0].age: "forty": want a whole number`},
		{"no YAML", "people:", "people: [", "t.yaml:"},
		{"duration without unit", "duration: 5s", "duration: 5", "t.yaml:10: "},
		{"no duration", "duration: 5s, ", "", "t.yaml:10: recording a1_mitral: duration 0s"},
		{"long", "duration: 5s", "duration: 5h", "t.yaml:10: recording a1_mitral: duration 5h"},
		{"site", "site: mitral", "site: elbow", `t.yaml:10: recording a1_elbow: site "elbow": want one of [aortic`},
		{"colour", "noise: pink", "noise: mauve", "t.yaml:10: recording a1_mitral: unknown colour"},
		{"noise without ratio", ", snr: 20", "", "t.yaml:10: recording a1_mitral: noise without snr"},
		{"ratio without noise", "noise: pink, ", "", "t.yaml:10: recording a1_mitral: snr without noise"},
		{"take", "site: mitral", "site: mitral, take: -1", "t.yaml:10: recording a1_mitral: take -1"},
		{"file", "site: mitral", "site: mitral, file: video", `t.yaml:10: recording a1_mitral: file "video"`},
		{"clip", "site: mitral", "site: mitral, clip: 3", "t.yaml:10: recording a1_mitral: clipping level 3"},
		{"gain", "site: mitral", "site: mitral, gain: -2", "t.yaml:10: recording a1_mitral: gain -2"},
		{"second id", "site: mitral", "site: mitral, under: second-id", "t.yaml:10: recording a1_mitral: under a second id"},
		{"under", "site: mitral", "site: mitral, under: third-id", `t.yaml:10: recording a1_mitral: under "third-id"`},
		{"sex", "sex: male", "sex: none", `t.yaml:5: person a1: sex "none"`},
		{"age", "age: 40", "age: 140", "t.yaml:5: person a1: age 140"},
		{"systole", "age: 40", "systole: guess", `t.yaml:5: person a1: systole "guess": want one of [resting-men`},
		{"heart rate", "heart-rate: 70", "heart-rate: 300", "t.yaml:5: person a1: heart rate (bpm) 300"},
		{"pitch", "age: 40", "pitch: -1", "t.yaml:5: person a1: pitch -1"},
		{"third sound", "age: 40", "third-sound: 9", "t.yaml:5: person a1: third-sound 9"},
		{"premature", "age: 40", "premature: 2", "t.yaml:5: person a1: probability of a premature beat 2"},
		{"murmur site", "age: 40", "murmurs: [{state: systole}]", `t.yaml:5: person a1: murmur 1: loudest ""`},
		{"murmur state", "age: 40", "murmurs: [{state: S1, loudest: mitral}]", "t.yaml:5: person a1: murmur 1: state"},
		{"murmur shape", "age: 40", "murmurs: [{state: systole, shape: odd, loudest: mitral}]", `t.yaml:5: person a1: murmur 1: unknown shape "odd"`},
		{"bad id", "id: a1", "id: ../a1", `t.yaml:5: id "../a1"`},
		{"id twice", "people:\n", "people:\n" + strings.SplitAfterN(oneRow, "people:\n", 2)[1], `t.yaml:11: id "a1" is used twice`},
		{"recording twice", "20}\n", "20}\n      - {site: mitral, duration: 3s}\n", "t.yaml:11: recording a1_mitral is there twice"},
		{"no recordings", "    recordings:\n      - {site: mitral, duration: 5s, noise: pink, snr: 20}\n", "", "t.yaml:5: person a1: no recordings"},
		{"nobody", strings.SplitAfterN(oneRow, "people:\n", 2)[1], "  []\n", "t.yaml:5: no people"},
		{"name", "name: trial", "name: ../trial", `t.yaml:1: name "../trial"`},
		{"rate", "rate: 4000", "rate: 100", "t.yaml:3: rate 100 Hz"},
	}
	for _, test := range tests {
		text := strings.Replace(oneRow, test.old, test.new, 1)
		if text == oneRow {
			t.Fatalf("%s: nothing to replace", test.name)
		}
		_, err := ParseScenario("t.yaml", []byte(text))
		if err == nil || !strings.Contains(column.ReplaceAllString(err.Error(), "$1"), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
		if err != nil && strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error has several lines: %v", test.name, err)
		}
	}
}

func TestLoadScenario(t *testing.T) {
	path := filepath.Join(t.TempDir(), "trial.yaml")
	if _, err := LoadScenario(path); err == nil {
		t.Error("an absent file was read")
	}
	if err := os.WriteFile(path, []byte(oneRow), 0o666); err != nil {
		t.Fatal(err)
	}
	s, err := LoadScenario(path)
	if err != nil {
		t.Fatal(err)
	}
	if p := s.People[0]; p.ID != "a1" || p.Recordings[0].Duration != 5*time.Second || *p.Recordings[0].SNR != 20 {
		t.Errorf("read %+v", p)
	}
}

// Without a law named, age and sex choose it.
func TestPersonLaw(t *testing.T) {
	tests := []struct {
		p    Person
		want string
	}{
		{Person{Age: 40, Sex: Male}, RestingMen.Name},
		{Person{Age: 18, Sex: Female}, RestingWomen.Name},
		{Person{Age: 17, Sex: Female}, Exercise.Name},
		{Person{Age: 40, Sex: Male, Systole: Exercise.Name}, Exercise.Name},
	}
	for _, test := range tests {
		if got, err := test.p.law(); err != nil || got.Name != test.want {
			t.Errorf("%+v: law %q, %v, want %q", test.p, got.Name, err, test.want)
		}
	}
}

func TestCondition(t *testing.T) {
	good, poor := 20.0, 19.9
	tests := []struct {
		p    Person
		t    Take
		want string
	}{
		{Person{}, Take{Duration: 5 * time.Second}, Clean},
		{Person{}, Take{Duration: 5 * time.Second, SNR: &good, Inverted: true}, Clean},
		{Person{Murmurs: []HeardMurmur{{}}}, Take{Duration: 5 * time.Second}, Murmured},
		{Person{}, Take{Duration: 5 * time.Second, SNR: &poor}, Noisy},
		{Person{}, Take{Duration: 5 * time.Second, Clicks: 1}, Noisy},
		{Person{}, Take{Duration: 5 * time.Second, Clip: 1}, Noisy},
		{Person{Premature: 0.1}, Take{Duration: 5 * time.Second}, Irregular},
		{Person{Missed: 0.1, Murmurs: []HeardMurmur{{}}}, Take{Duration: 5 * time.Second}, Irregular},
		{Person{}, Take{Duration: 1900 * time.Millisecond}, Unusable},
		{Person{}, Take{Duration: 5 * time.Second, File: EmptyFile}, Unusable},
		{Person{}, Take{Duration: 5 * time.Second, File: TextFile}, Unusable},
	}
	for _, test := range tests {
		if got := test.p.condition(&test.t); got != test.want {
			t.Errorf("%+v: %s, want %s", test.t, got, test.want)
		}
	}
}

// The demonstration holds what it promises to show.
func TestDemoScenario(t *testing.T) {
	s := Demo()
	conditions, groups := map[string]int{}, map[string]int{}
	var short, empty, text, clipped, clicks, inverted, unannotated, second, murmurs int
	for i := range s.People {
		p := &s.People[i]
		groups[ageGroup(p.Age)]++
		if len(p.Murmurs) > 0 {
			murmurs++
		}
		for j := range p.Recordings {
			take := &p.Recordings[j]
			conditions[p.condition(take)]++
			for _, c := range []struct {
				count *int
				holds bool
			}{
				{&short, take.Duration < time.Second},
				{&empty, take.File == EmptyFile},
				{&text, take.File == TextFile},
				{&clipped, take.Clip > 0},
				{&clicks, take.Clicks > 0},
				{&inverted, take.Inverted},
				{&unannotated, take.Unannotated},
				{&second, take.UnderID == UnderSecond},
			} {
				if c.holds {
					*c.count++
				}
			}
		}
	}
	total := 0
	for _, n := range conditions {
		total += n
	}
	if len(s.People) != 12 || total < 24 || total > 30 {
		t.Errorf("%d people with %d recordings", len(s.People), total)
	}
	if conditions[Clean] < 15 || conditions[Murmured] < 5 || conditions[Noisy] < 2 || conditions[Irregular] < 1 || conditions[Unusable] < 3 {
		t.Errorf("conditions %v", conditions)
	}
	if murmurs < 3 || len(groups) != 4 {
		t.Errorf("%d people with a murmur, age groups %v", murmurs, groups)
	}
	for name, n := range map[string]int{
		"short": short, "empty": empty, "text": text, "clipped": clipped, "with clicks": clicks,
		"inverted": inverted, "without annotation": unannotated, "under a second id": second,
	} {
		if n != 1 {
			t.Errorf("%d recordings are %s, want 1", n, name)
		}
	}
}

// Whatever the text, reading it ends in a scenario that can be checked again or
// in an error.
func FuzzParseScenario(f *testing.F) {
	f.Add([]byte(oneRow))
	f.Add(demoPeople)
	f.Add([]byte("people: [1]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ParseScenario("f.yaml", text)
		if err == nil {
			if err := s.Check(); err != nil {
				t.Errorf("accepted, then refused: %v", err)
			}
		}
	})
}
