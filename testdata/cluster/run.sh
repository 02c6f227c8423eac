#!/usr/bin/env bash
# Runs slurm-array.sh and parallel.sh, and those of a study, on one machine with the
# packages of Debian, and compares every byte of the tables and the summary with a run
# without shards, and study.json with that of a study without shards.
# Needs root on Debian, to install slurmctld, slurmd, munge and parallel, and the
# ports 16817 and 16818. It stops the daemons that it starts.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
pids=()
stop() {
  for pid in "${pids[@]}"; do kill "$pid" 2>/dev/null || true; done
  for pid in "${pids[@]}"; do while kill -0 "$pid" 2>/dev/null; do sleep 0.1; done; done
  [ -n "${KEEP:-}" ] && echo "kept $work" || rm -rf "$work"
}
trap stop EXIT

export DEBIAN_FRONTEND=noninteractive
printf '#!/bin/sh\nexit 101\n' >"$work/policy" # keeps apt from starting system services
chmod +x "$work/policy"
if ! command -v slurmd >/dev/null || ! command -v slurmctld >/dev/null || ! command -v munged >/dev/null || ! command -v parallel >/dev/null; then
  policy=/usr/sbin/policy-rc.d
  [ -e $policy ] || { install -m 755 "$work/policy" $policy; made=1; }
  apt-get install -y -qq --no-install-recommends slurmctld slurmd slurm-client munge parallel >/dev/null
  [ -z "${made:-}" ] || rm $policy
fi
slurmd -V
munged --version
parallel --version | head -1

(cd "$here/../.." && go build -o "$work/bin/phonocycle" ./cmd/phonocycle)
export PATH="$work/bin:$PATH"
phonocycle synth --many 60 --length 2s --out "$work/data" >/dev/null
cp "$here/../audio/"*.wav "$work/data/recordings/" 2>/dev/null || true # some of these fail or match no pattern
export DATA="$work/data" LAYOUT="$work/data/many.yaml"
flags=(--method shannon-peaks --part-size 4 --resamples 100 --unread-tables accept) # these files are in no table
status=0
phonocycle run --data "$DATA" --layout "$LAYOUT" --out "$work/one" "${flags[@]}" >/dev/null || status=$?
[ $status -eq 0 ] || [ $status -eq 3 ]

phonocycle synth --many 24 --length 2s --out "$work/whole" >/dev/null
cat >"$work/study.yaml" <<EOF
title: Three methods on synthetic recordings
data-sets: [{name: many, folder: whole, layout: whole/many.yaml}]
methods: [{name: peaks, method: shannon-peaks}, {name: hmm, method: duration-hmm}, {name: logistic, method: logistic-hsmm}]
conditions:
  - clean
  - noise=pink,snr=0
designs: [{name: cross-validated, cross-validate: many, folds: 3}, {name: built-in, model: builtin, score-on: many}]
scoring: {resamples: 100}
EOF
export STUDY="$work/study.yaml"
study() { # OUT ARGS…: makes the study without shards
  status=0
  phonocycle study "$STUDY" --data "$work" --out "$@" >/dev/null 2>&1 || status=$?
  [ $status -eq 0 ] || [ $status -eq 3 ]
}
study "$work/study-one"

compare_study() { # NAME
  cmp "$work/study-one/study.json" "$OUT/study.json"
  echo "$1: the same study.json as without shards"
}

compare() { # NAME: compares every file except the manifest, which has dates and hosts
  diff <(cd "$work/one" && find . -type f ! -name manifest.json | sort | xargs sha256sum) \
    <(cd "$OUT" && find . -type f ! -name manifest.json | sort | xargs sha256sum)
  echo "$1: the same $(find "$OUT" -type f ! -name manifest.json | wc -l) files as without shards"
}

export OUT="$work/parallel"
"$here/parallel.sh" 5 "${flags[@]}" >"$work/parallel.log" 2>&1 || [ $? -eq 3 ] || { cat "$work/parallel.log"; exit 1; }
compare "GNU parallel, 5 shards"
OUT="$work/study-parallel" DATA="$work" "$here/study-parallel.sh" 3 >"$work/parallel.log" 2>&1 || [ $? -eq 3 ] || { cat "$work/parallel.log"; exit 1; }
OUT="$work/study-parallel" compare_study "a study with GNU parallel, 3 shards"

mkdir -p "$work/munge" "$work/state" "$work/spool"
chmod 700 "$work/munge" "$work"
chmod 711 "$work" # munged wants a folder that others can enter for its socket
dd if=/dev/urandom of="$work/munge/key" bs=1 count=1024 status=none
chmod 400 "$work/munge/key"
munged --foreground --force --key-file="$work/munge/key" --socket="$work/munge/socket" --pid-file="$work/munge/pid" \
  --log-file="$work/munge/log" --seed-file="$work/munge/seed" 2>"$work/munge/stderr" &
pids+=($!)
host=$(hostname -s)
cat >"$work/slurm.conf" <<EOF
ClusterName=one
SlurmctldHost=$host
SlurmctldPort=16817
SlurmdPort=16818
SlurmUser=root
AuthType=auth/munge
CredType=cred/munge
AuthInfo=socket=$work/munge/socket
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SwitchType=switch/none
MpiDefault=none
ReturnToService=2
SchedulerParameters=batch_sched_delay=0,sched_interval=1
NodeName=$host CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
EOF
export SLURM_CONF="$work/slurm.conf"
until [ -S "$work/munge/socket" ]; do sleep 0.1; done
slurmctld -D 2>"$work/slurmctld.err" &
pids+=($!)
slurmd -D 2>"$work/slurmd.err" &
pids+=($!)
for _ in $(seq 100); do
  sinfo -h -o %T 2>/dev/null | grep -q idle && break
  sleep 0.2
done
sinfo

export OUT="$work/slurm"
cd "$work"
job=$(sbatch --parsable --array=1-5 "$here/slurm-array.sh" "${flags[@]}")
sbatch --wait --dependency=afterok:"$job" --output="$work/merge.log" --wrap "phonocycle merge --out '$OUT' || [ \$? -eq 3 ]" \
  || { cat "$work"/merge.log "$work"/phonocycle-*.log "$work"/slurmctld.log; exit 1; }
compare "Slurm job array, 5 tasks"

export OUT="$work/study-slurm"
DATA="$work" sbatch --wait --array=1-3 "$here/study-slurm-array.sh" >/dev/null || { cat "$work"/phonocycle-*.log "$work"/slurmctld.log; exit 1; }
study "$OUT"
compare_study "a study as a Slurm job array, 3 tasks"
