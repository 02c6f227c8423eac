#!/usr/bin/env bash
# Shows that --people circor-development gives on a larger data set what its 151 people
# give alone: the same folds, models, states and scores.
#
#   testdata/people/reproduce.sh PHONOCYCLE CIRCOR [OPTION ...]
#
# PHONOCYCLE is the program and CIRCOR a folder with the recordings of these people
# alone. The larger data set is a copy of it with made-up people, annotated and with
# rows in training_data.csv. The options go to crossval; without any, the method is
# logistic-hsmm.
set -euo pipefail
phonocycle=$(realpath "$1") circor=$(realpath "$2")
shift 2
here=$(realpath "$(dirname "$0")")
cd "$(mktemp -d)"
trap 'rm -rf "$PWD"' EXIT

cp -r "$circor" full
chmod -R u+w full
"$phonocycle" synth --many 300 --length 12s --out more >/dev/null
python3 "$here/more_people.py" more full

crossval() { "$phonocycle" crossval --layout circor "$@"; }
[ $# -gt 0 ] || set -- --method logistic-hsmm
crossval --data "$circor" --out alone "$@" >/dev/null
crossval --data full --people circor-development --out listed "$@" | grep 'recordings selected'

for table in states matches scores; do
  cmp <("$phonocycle" csv --table "alone/$table") <("$phonocycle" csv --table "listed/$table")
done
for model in alone/models/*; do
  [ ! -e "$model" ] || cmp "$model" "listed/models/${model##*/}"
done
python3 - <<'END'
import json
alone, listed = (json.load(open(f"{run}/summary.json")) for run in ("alone", "listed"))
assert alone["scores"] == listed["scores"] and alone["headline"] == listed["headline"] and alone["counts"] == listed["counts"]
h = listed["headline"]
print(f'states, matches, scores, models and summary are the same: F1 {100*h["f1"]:.1f} ({100*h["low"]:.1f}–{100*h["high"]:.1f})')
END
