package synth

import (
	"io"
	"text/template"
)

// layout describes a data set that Write made, in the form that package dataset
// reads.
var layout = template.Must(template.New("layout").Parse(`# Written beside the recordings that it describes; none of them is of a real heart.
name: {{.Name}}
title: {{printf "%q" .Title}}
version: "1"
citation: Made by the synth command; not a recording of anyone.
licence: CC0 1.0
source: made, not recorded

audio:
  include:
    - recordings/*.wav

recording:
  patterns:
    - 'recordings/(?P<id>(?P<person>[A-Za-z0-9]+)_(?P<site>aortic|pulmonary|tricuspid|mitral)(?:_(?P<take>\d+))?)\.wav'

tables:
  - path: people.csv
    header: present
    key: id
    match: "{person}"
    same_person: second_id
    labels:
      - {column: age_years, name: age_years, type: number}
      - {column: age_group, name: age_group}
      - {column: sex, name: sex}
      - {column: heart_rate_bpm, name: heart_rate_bpm, type: number}
      - {column: rhythm, name: rhythm}
      - {column: murmur, name: murmur}
      - {column: murmur_state, name: murmur_state}
      - {column: murmur_shape, name: murmur_shape}
  - path: recordings.csv
    header: present
    key: recording
    match: "recordings/{id}"
    labels:
      - {column: condition, name: condition}
      - {column: noise, name: noise}
      - {column: snr_db, name: snr_db, type: number}
      - {column: clicks_per_min, name: clicks_per_min, type: number}
      - {column: clip_level, name: clip_level, type: number}
      - {column: inverted, name: inverted}

reference:
  kind: intervals
  paths: ["{dir}/{id}.csv"]
  header: present
  columns: {start: start_s, end: end_s, state: state}
  unit: seconds
  states: {S1: S1, systole: systole, S2: S2, diastole: diastole}
`))

func (s *Scenario) writeLayout(w io.Writer) error { return layout.Execute(w, s) }
