package report

import (
	"encoding/json"
	"fmt"
	"html/template"
	"time"

	"phonocycle/pipeline/pcg"
)

// player is a view as a page shows it: its figure, its audio, and the states that
// the script shows while the audio plays.
type player struct {
	*View
	ID          string
	Drawn       template.HTML
	AudioURI    template.URL // empty without audio
	States      string       // JSON for the script
	Left, Right float64      // ends of the time axis, in units of the drawing
	Seconds     float64
}

// newPlayer returns the player of a view.
func newPlayer(v *View) (player, error) { return playerOf(v, v.figure(), "") }

// playerOf returns the player of a view with its figure and SVG that is laid over
// it. The time axis of the figure may end behind the view.
func playerOf(v *View, f *figure, overlay string) (player, error) {
	p := player{View: v, ID: v.id, States: v.playerStates(), Seconds: (v.To - v.From).Seconds()}
	p.Left, p.Right = f.dataSpan()
	p.Right = p.Left + (p.Right-p.Left)*p.Seconds/(f.plot.X.Max-f.plot.X.Min)
	if len(v.Wave) > 0 && !v.Silent {
		var err error
		if p.AudioURI, err = wavURI(v.Wave, v.WaveRate); err != nil {
			return p, fmt.Errorf("sound of recording %s: %w", v.Recording, err)
		}
		overlay += fmt.Sprintf(`<line class="cursor" x1="%.2f" x2="%.2f" y1="2" y2="%.2f"/>`, p.Left, p.Left, f.height.Points()-34)
	}
	p.Drawn = f.svg(overlay)
	return p, nil
}

// pointHalfWidth is the time before and after a reference point during which the
// player shows its sound.
const pointHalfWidth = 40 * time.Millisecond

// playerStates returns what the player shows at which time, as JSON: for each
// track its name and [start ms, end ms, state] from the start of the view.
func (v *View) playerStates() string {
	type track struct {
		Name   string   `json:"name"`
		States [][3]any `json:"states"`
	}
	rows := func(intervals []pcg.Interval) [][3]any {
		list := [][3]any{}
		for _, iv := range v.within(intervals) {
			list = append(list, [3]any{(iv.Start - v.From).Milliseconds(), (iv.End - v.From).Milliseconds(), iv.State.String()})
		}
		return list
	}
	reference := rows(v.Reference.Intervals)
	for _, p := range v.Reference.Points {
		reference = append(reference, rows([]pcg.Interval{{Start: p.At - pointHalfWidth, End: p.At + pointHalfWidth, State: p.Sound}})...)
	}
	tracks := []track{{v.referenceName(), reference}}
	for _, t := range v.Tracks {
		tracks = append(tracks, track{t.Name, rows(t.Intervals)})
	}
	content, err := json.Marshal(tracks)
	if err != nil {
		panic(err) // strings and integers only
	}
	return string(content)
}
