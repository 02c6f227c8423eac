package synth

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"phonocycle/pipeline/pcg"
)

// A Person is one row of the table. What is left out is as in NewHeart.
type Person struct {
	ID       string `yaml:"id"`
	SecondID string `yaml:"second-id"` // used for some of the recordings
	About    string `yaml:"about"`
	Age      int    `yaml:"age"` // years
	Sex      Sex    `yaml:"sex"`

	HeartRate      float64       `yaml:"heart-rate"`      // beats per minute
	Systole        string        `yaml:"systole"`         // name of a SystoleLaw; by age and sex if left out
	CycleVariation *float64      `yaml:"cycle-variation"` // standard deviation, as a fraction
	Breaths        float64       `yaml:"breaths"`         // per minute
	Swing          *float64      `yaml:"swing"`           // of the cycle with breathing, as a fraction
	Pitch          float64       `yaml:"pitch"`           // factor on all frequencies of the sounds
	ThirdSound     float64       `yaml:"third-sound"`     // gain of S3 relative to M1
	Premature      float64       `yaml:"premature"`       // probability of a beat
	Missed         float64       `yaml:"missed"`          // probability of a beat
	Murmurs        []HeardMurmur `yaml:"murmurs"`
	Recordings     []Take        `yaml:"recordings"`
}

// Sex is "female" or "male"; it chooses the regression of systole.
type Sex string

// The values of Sex.
const (
	Female Sex = "female"
	Male   Sex = "male"
)

// A HeardMurmur is a Murmur with the site where it is loudest.
type HeardMurmur struct {
	State   string  `yaml:"state"` // systole or diastole
	From    float64 `yaml:"from"`
	To      float64 `yaml:"to"` // 1 if left out
	Shape   Shape   `yaml:"shape"`
	Low     float64 `yaml:"low"`   // Hz
	High    float64 `yaml:"high"`  // Hz
	Level   float64 `yaml:"level"` // root mean square at the loudest, relative to the gain of M1
	Loudest Site    `yaml:"loudest"`
}

// A Take is one recording of a person.
type Take struct {
	Site     Site          `yaml:"site"`
	Take     int           `yaml:"take"` // counted from 1; left out of the name if left out here
	UnderID  UnderID       `yaml:"under"`
	Duration time.Duration `yaml:"duration"`

	Noise    Colour   `yaml:"noise"`
	SNR      *float64 `yaml:"snr"`      // dB; no noise if left out
	Clicks   float64  `yaml:"clicks"`   // per minute
	Inverted bool     `yaml:"inverted"` // the sign is changed, as by reversed wires of a sensor
	Gain     float64  `yaml:"gain"`     // 1 if left out
	Clip     float64  `yaml:"clip"`     // level beyond which samples are cut off, as a fraction of full scale

	File        FileKind `yaml:"file"`
	Unannotated bool     `yaml:"unannotated"` // no reference is written
}

// UnderID says which of a person's two ids a recording carries.
type UnderID string

// The values of UnderID.
const (
	UnderFirst  UnderID = ""
	UnderSecond UnderID = "second-id"
)

// FileKind says what lies where the audio should be.
type FileKind string

// The values of FileKind.
const (
	AudioFile FileKind = ""      // the recording
	EmptyFile FileKind = "empty" // nothing, as after a broken transfer
	TextFile  FileKind = "text"  // a note under the name of a recording
)

// MaxDuration bounds a recording of a scenario.
const MaxDuration = 10 * time.Minute

func (p *Person) ids() []string {
	if p.SecondID == "" {
		return []string{p.ID}
	}
	return []string{p.ID, p.SecondID}
}

func (p *Person) check() error {
	if p.Age < 0 || p.Age > 120 {
		return fmt.Errorf("age %d is not between 0 and 120 years", p.Age)
	}
	if p.Sex != Female && p.Sex != Male {
		return fmt.Errorf("sex %q is not %s or %s: it chooses the regression of systole", p.Sex, Female, Male)
	}
	if _, err := p.law(); err != nil {
		return err
	}
	if !(p.Pitch >= 0 && p.Pitch <= 4) {
		return fmt.Errorf("pitch %g is not a factor up to 4", p.Pitch)
	}
	if !(p.ThirdSound >= 0 && p.ThirdSound <= 2) {
		return fmt.Errorf("third-sound %g is not a gain up to 2", p.ThirdSound)
	}
	for i := range p.Murmurs {
		if m := &p.Murmurs[i]; !slices.Contains(Sites(), m.Loudest) {
			return fmt.Errorf("murmur %d: loudest %q: want one of %v", i+1, m.Loudest, Sites())
		}
	}
	if len(p.Recordings) == 0 {
		return errors.New("no recordings")
	}
	return nil
}

func (t *Take) check(p *Person) error {
	switch {
	case !slices.Contains(Sites(), t.Site):
		return fmt.Errorf("site %q: want one of %v", t.Site, Sites())
	case t.Take < 0:
		return fmt.Errorf("take %d: takes are counted from 1", t.Take)
	case t.UnderID != UnderFirst && t.UnderID != UnderSecond:
		return fmt.Errorf("under %q: want %s or nothing", t.UnderID, UnderSecond)
	case t.UnderID == UnderSecond && p.SecondID == "":
		return errors.New("under a second id, but the person has none")
	case t.Duration <= 0 || t.Duration > MaxDuration:
		return fmt.Errorf("duration %v is not between 0 and %v: write it with its unit, such as 15s", t.Duration, MaxDuration)
	case t.File != AudioFile && t.File != EmptyFile && t.File != TextFile:
		return fmt.Errorf("file %q: want %s, %s or nothing", t.File, EmptyFile, TextFile)
	}
	return t.checkSound()
}

// checkSound checks what surrounds the sound of the heart.
func (t *Take) checkSound() error {
	switch {
	case t.SNR == nil && t.Noise != "":
		return errors.New("noise without snr: give the ratio in decibels")
	case t.SNR != nil && t.Noise == "":
		return fmt.Errorf("snr without noise: name its colour, one of %v", Colours())
	case t.SNR != nil && !slices.Contains(Colours(), t.Noise):
		return fmt.Errorf("unknown colour of noise %q: want one of %v", t.Noise, Colours())
	case t.SNR != nil && (math.IsNaN(*t.SNR) || math.IsInf(*t.SNR, 0)):
		return fmt.Errorf("signal-to-noise ratio %g dB is not a number: leave the noise out for a clean recording", *t.SNR)
	case !(t.Clicks >= 0 && t.Clicks <= 6000):
		return fmt.Errorf("%g clicks per minute is not between 0 and 6000", t.Clicks)
	case !(t.Gain >= 0) || math.IsInf(t.Gain, 0):
		return fmt.Errorf("gain %g is not a positive number", t.Gain)
	case !(t.Clip >= 0 && t.Clip <= 1):
		return fmt.Errorf("clipping level %g is not between 0 and 1", t.Clip)
	}
	return nil
}

// law returns the systole law named, or the one for the person's age and sex.
func (p *Person) law() (SystoleLaw, error) {
	name := p.Systole
	switch {
	case name != "":
	case p.Age < adult:
		name = Exercise.Name
	case p.Sex == Female:
		name = RestingWomen.Name
	default:
		name = RestingMen.Name
	}
	var names []string
	for _, l := range SystoleLaws() {
		if l.Name == name {
			return l, nil
		}
		names = append(names, l.Name)
	}
	return SystoleLaw{}, fmt.Errorf("systole %q: want one of %v", name, names)
}

// adult is the age in years from which the regressions of adults hold.
const adult = 18

// heart returns what sounds at the site of a take.
func (p *Person) heart(t *Take, seed uint64) (Heart, error) {
	law, err := p.law()
	if err != nil {
		return Heart{}, err
	}
	h := NewHeart(p.HeartRate, law, seed)
	if p.CycleVariation != nil {
		h.CycleVariation = *p.CycleVariation
	}
	if p.Swing != nil {
		h.Breathing.Swing = *p.Swing
	}
	if p.Breaths != 0 {
		h.Breathing.Rate = p.Breaths
	}
	h.Premature, h.Missed = p.Premature, p.Missed
	h.s3.Gain = p.ThirdSound * h.m1.Gain
	for _, m := range p.Murmurs {
		h.Murmurs = append(h.Murmurs, m.at(t.Site, h.m1.Gain))
	}
	if p.Pitch != 0 {
		for _, c := range h.components() {
			for i := range c.Partials {
				c.Partials[i].Frequency *= p.Pitch
			}
		}
	}
	t.Site.applyTo(&h)
	return h, nil
}

// at returns the murmur as heard at a site.
func (m HeardMurmur) at(site Site, gain float64) Murmur {
	heard := Murmur{From: m.From, To: m.To, Shape: m.Shape, Low: m.Low, High: m.High, Level: m.Level * gain}
	if m.State == pcg.Systole.String() || m.State == pcg.Diastole.String() {
		heard.State, _ = pcg.ParseState(m.State)
	}
	if m.To == 0 {
		heard.To = 1
	}
	if site != m.Loudest {
		heard.Level *= awayGain
	}
	return heard
}

// recordingID returns the name of a take's files without their extension.
func (p *Person) recordingID(t *Take) string {
	id := p.ID
	if t.UnderID == UnderSecond && p.SecondID != "" {
		id = p.SecondID
	}
	name := id + "_" + string(t.Site)
	if t.Take > 0 {
		name += fmt.Sprintf("_%d", t.Take)
	}
	return name
}
