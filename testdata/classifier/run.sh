#!/bin/sh
# Trains a classifier on the tables of a run over synthetic recordings, and on
# those of circor if they are there (in PHONOCYCLE_DATA, by default ../shared/data
# from the project root). Needs scikit-learn.
set -eu
cd "$(dirname "$0")/../.."
python=
for p in python3 /usr/bin/python3; do # the second is that of Debian, if another comes first
	if "$p" -c 'import sklearn' 2>/dev/null; then python=$p && break; fi
done
[ -n "$python" ] || { echo "missing  scikit-learn: no classifier trained"; exit 0; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/phonocycle" ./cmd/phonocycle

train() { # NAME RUN-FLAGS -- CLASSIFIER-FLAGS
	name=$1
	shift
	flags=
	while [ "$1" != -- ]; do
		flags="$flags $1"
		shift
	done
	shift
	echo "== $name"
	# shellcheck disable=SC2086 # the flags must be split into words
	"$work/phonocycle" run $flags --resamples 10 --out "$work/$name" >"$work/$name.txt" || { cat "$work/$name.txt"; exit 1; }
	"$work/phonocycle" csv --table "$work/$name/recordings" >"$work/$name.csv"
	"$python" testdata/classifier/murmur.py "$work/$name.csv" "$@"
}

"$python" testdata/classifier/people.py >"$work/people.yaml"
"$work/phonocycle" synth --people "$work/people.yaml" --out "$work/people" >/dev/null
train synthetic --data "$work/people" --layout "$work/people/murmurs.yaml" -- --positive present --negative absent --least 0.8

data=${PHONOCYCLE_DATA:-../shared/data}
if [ -d "$data/circor" ]; then
	train circor --data "$data/circor" --layout circor --training-overlap leave-out -- --positive Present --negative Absent --least 0.5
else
	echo "missing  $data/circor: only synthetic recordings"
fi
