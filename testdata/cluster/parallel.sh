#!/usr/bin/env bash
# A run of phonocycle as so many jobs at a time of GNU parallel, on this machine
# or, with --sshlogin, on others that see the same folders.
#
#   DATA=circor LAYOUT=circor OUT=results ./parallel.sh 8 --method duration-hmm
#
# The first argument is the number of shards; all others go to run.
set -u
shards=$1
shift
export DATA LAYOUT OUT
seq "$shards" | parallel --will-cite --halt soon,fail=1 \
  "phonocycle run --data \"\$DATA\" --layout \"\$LAYOUT\" --out \"\$OUT\" --resume --workers 1 --shard {}/$shards $* || [ \$? -eq 3 ]" \
  && phonocycle merge --out "$OUT"
