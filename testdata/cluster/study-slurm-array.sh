#!/usr/bin/env bash
# Runs a study as a Slurm job array. Each task makes the cells of one shard, in one
# output folder that all nodes see. Cells that need the same models are in one shard.
#
#   export STUDY=robustness DATA=/share/data OUT=/share/study
#   job=$(sbatch --parsable --array=1-8 study-slurm-array.sh)
#   sbatch --dependency=afterok:$job --wrap "phonocycle study $STUDY --data $DATA --out $OUT"
#
# A task that is killed or requeued goes on with its first missing cell. Flags of study
# go after the name of the script.
#
#SBATCH --job-name=phonocycle-study
#SBATCH --cpus-per-task=2
#SBATCH --output=phonocycle-%A-%a.log
set -u
phonocycle study "$STUDY" --data "$DATA" --out "$OUT" --workers "${SLURM_CPUS_PER_TASK:-1}" \
  --shard "$SLURM_ARRAY_TASK_ID/$SLURM_ARRAY_TASK_COUNT" "$@"
status=$?
# 3 means that all is done and some cells failed, which the last call tries again and
# lists. It waits for tasks that end with 0.
[ $status -eq 3 ] && status=0
exit $status
