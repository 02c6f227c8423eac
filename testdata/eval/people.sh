#!/bin/sh
# Counts of two methods per person of circor, both sounds, at the centre within
# 60 ms, from a cross-validation in four folds: the people of TestCoverageByPeople.
#
#     testdata/eval/people.sh ../shared/data/circor > testdata/eval/people.csv
#
# It takes ten minutes, nearly all of them to train conv-hsmm. Names are left out;
# people stand in the order of their counts. The counts in the repository are of
# 2026-11-29, of the models of version 0.3; newer methods give slightly others.
set -eu
out=$(mktemp -d)
trap 'rm -r "$out"' EXIT
echo method,tp,fp,fn
for method in conv-hsmm duration-hmm; do
	go run ./cmd/phonocycle crossval --data "$1" --layout circor --method $method --folds 4 --resamples 200 --out "$out/$method" >&2
	go run ./cmd/phonocycle csv --table "$out/$method/scores" --columns person,anchor,tolerance_ms,tp,fp,fn |
		awk -F, -v method=$method '$2 == "centre" && $3 == 60 { tp[$1] += $4; fp[$1] += $5; fn[$1] += $6 }
			END { for (p in tp) printf "%s,%d,%d,%d\n", method, tp[p], fp[p], fn[p] }' |
		sort -t, -k2,2n -k3,3n -k4,4n
done
