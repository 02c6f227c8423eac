#!/bin/sh
# Writes sample tables, reads them with each reader that this machine has, and
# compares what it prints with the .txt files here. Names each missing reader.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
failed=0

check() { # NAME WANTED: compares standard input with the file WANTED
	case $2 in /*) want=$2 ;; *) want=$here/$2 ;; esac
	if diff -u "$want" - >"$work/diff"; then
		echo "ok       $1"
	else
		echo "FAILED   $1"
		cat "$work/diff"
		failed=1
	fi
}

cd "$here/../.."
go run ./testdata/readers/sample "$work/run"
go run ./testdata/readers/go "$work/run" | check "Go" scores.txt
go build -o "$work/phonocycle" ./cmd/phonocycle
"$work/phonocycle" demo --out "$work/demo" >/dev/null
"$work/phonocycle" windows --data "$work/demo/recordings" --layout "$work/demo/recordings/screening.yaml" \
	--states "$work/demo/results" --out "$work/demo/windows" >/dev/null || [ $? = 3 ] # some recordings fail on purpose
mv "$work/demo/windows/windows" "$work/demo/results"
go run ./testdata/readers/columns "$work/demo/results" >"$work/columns.txt"

if command -v npm >/dev/null && cp "$here"/*.mjs "$here"/*.sql "$here"/package.json "$work" &&
	(cd "$work" && npm install --silent --no-audit --no-fund >/dev/null 2>&1); then
	(cd "$work" && node javascript.mjs run) | check "JavaScript, hyparquet" scores.txt
	(cd "$work" && node columns.mjs demo/results) | check "all columns of a demo, hyparquet against parquet-go" "$work/columns.txt"
	(cd "$work" && node arrow.mjs demo/results) | check "all columns of a demo and their metadata, Arrow's Rust library against parquet-go" "$work/columns.txt"
	sed 's/ unit=".*" dictionary=[a-z]*//' "$work/columns.txt" >"$work/values.txt"
	# npm leaves out the engine of Polars where Node is older than it says; it works all the same.
	engine=nodejs-polars-$(node -p 'process.platform + "-" + process.arch + ({ linux: "-gnu", win32: "-msvc" }[process.platform] ?? "")')
	if (cd "$work" && npm install --silent --no-save --no-audit --no-fund "$engine@$(node -p 'require("nodejs-polars/package.json").version')" >/dev/null 2>&1); then
		(cd "$work" && node polars.mjs demo/results) | check "values of all columns of a demo, Polars against parquet-go" "$work/values.txt"
	else
		echo "missing  $engine: Polars not tried"
	fi
	(cd "$work" && node duckdb.mjs query.sql run) | check "SQL, DuckDB" query.txt
	(cd "$work" && node duckdb.mjs predictions.sql run >/dev/null)
	go run ./testdata/readers/go "$work/run" "$work/run/predictions.parquet" "$work/run/predictions-zstd.parquet" | check "states written by DuckDB" predictions.txt
else
	echo "missing  npm or its packages: JavaScript and SQL not tried"
fi
if command -v python3 >/dev/null; then
	python3 "$here/python_csv.py" "$work/run" "$work/phonocycle" | check "Python, csv" scores.txt
	mkdir -p "$work/damaged/scores"
	(head -c 100 "$work/run/scores/part-000000.parquet" && echo '?' && tail -c +103 "$work/run/scores/part-000000.parquet") \
		>"$work/damaged/scores/part-000000.parquet"
	(cd "$work" && python3 "$here/verify.py" run/scores damaged) | check "Python, digests" verify.txt
else
	echo "missing  Python: not tried"
fi
if command -v Rscript >/dev/null; then
	Rscript "$here/r_csv.R" "$work/run" "$work/phonocycle" | check "R, csv" scores.txt
else
	echo "missing  R: not tried"
fi
if python3 -c 'import pandas, pyarrow' 2>/dev/null; then
	python3 "$here/python.py" "$work/run" | check "Python, pandas" scores.txt
else
	echo "missing  pandas with pyarrow: Python not tried"
fi
if Rscript -e 'library(nanoparquet)' >/dev/null 2>&1; then
	Rscript "$here/r.R" "$work/run" | sed 's/ $//' | check "R, nanoparquet" scores.txt
else
	echo "missing  R with nanoparquet: R not tried"
fi
exit $failed
