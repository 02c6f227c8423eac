#!/usr/bin/env bash
# Runs a study in shards with GNU parallel, on this machine or, with --sshlogin, on
# others that see the same folders, and then writes its results.
#
#   STUDY=robustness DATA=/share/data OUT=/share/study ./study-parallel.sh 8
#
# The first argument is the number of shards. All others are flags of study, such as
# --only; with it, call study without it for the results.
set -u
shards=$1
shift
export STUDY DATA OUT
seq "$shards" | parallel --will-cite --halt soon,fail=1 \
  "phonocycle study \"\$STUDY\" --data \"\$DATA\" --out \"\$OUT\" --workers 1 --shard {}/$shards $* || [ \$? -eq 3 ]" \
  && phonocycle study "$STUDY" --data "$DATA" --out "$OUT" "$@"
