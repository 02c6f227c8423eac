#!/usr/bin/env bash
# Runs phonocycle as a Slurm job array. Each task makes the parts of one shard, in
# one output folder that all nodes see.
#
#   export DATA=/share/circor LAYOUT=circor OUT=/share/results
#   job=$(sbatch --parsable --array=1-32 slurm-array.sh)
#   sbatch --dependency=afterok:$job --wrap "phonocycle merge --out $OUT"
#
# A task that is killed or requeued continues at its first missing part. Flags of
# run go after the name of the script.
#
#SBATCH --job-name=phonocycle
#SBATCH --cpus-per-task=1
#SBATCH --output=phonocycle-%A-%a.log
set -u
phonocycle run --data "$DATA" --layout "$LAYOUT" --out "$OUT" --resume --workers "${SLURM_CPUS_PER_TASK:-1}" \
  --shard "$SLURM_ARRAY_TASK_ID/$SLURM_ARRAY_TASK_COUNT" "$@"
status=$?
# 3 means that all is done and some recordings failed, each with a reason in the
# tables. The job that merges waits for tasks that end with 0.
[ $status -eq 3 ] && status=0
exit $status
