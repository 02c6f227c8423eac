#!/usr/bin/env bash
# Runs phonocycle in shards with GNU parallel, on this machine or, with
# --sshlogin, on others that see the same folders.
#
#   DATA=circor LAYOUT=circor OUT=results ./parallel.sh 8 --training-overlap leave-out
#
# The first argument is the number of shards. All others are flags of run.
set -u
shards=$1
shift
export DATA LAYOUT OUT
seq "$shards" | parallel --will-cite --halt soon,fail=1 \
  "phonocycle run --data \"\$DATA\" --layout \"\$LAYOUT\" --out \"\$OUT\" --resume --workers 1 --shard {}/$shards $* || [ \$? -eq 3 ]" \
  && phonocycle merge --out "$OUT"
