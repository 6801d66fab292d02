#!/bin/sh
# The printed job array against a real Slurm (Debian packages slurm-wlm and munge) with one node on this machine: an array of four parts and
# their join give the bytes of the unsplit run. Skipped, status 77 and a reason, where Slurm cannot be started; never run in CI.
# Usage: slurm_test.sh <driftglow> <folder of the example scenarios>
set -eu
driftglow=$1
configs=$2

skip() {
  echo "skipped: $1"
  exit 77
}
[ -z "${CI:-}" ] || skip "CI starts no scheduler"
[ "$(id -u)" -eq 0 ] || skip "slurmd needs root"
PATH=$PATH:/usr/sbin
for program in munged slurmctld slurmd sbatch squeue scontrol; do
  command -v "$program" >/dev/null || skip "no $program; install slurm-wlm and munge"
done

work=$(mktemp -d /tmp/driftglow-slurm-XXXXXX)
chmod 755 "$work"
started=""
# shellcheck disable=SC2329
finish() {
  for process in $started; do kill "$process" 2>/dev/null || true; done
  for process in $started; do
    for _ in 1 2 3 4 5 6 7 8 9 10; do
      kill -0 "$process" 2>/dev/null || break
      sleep 0.3
    done
    kill -9 "$process" 2>/dev/null || true
  done
  rm -rf "$work"
}
trap finish EXIT
for folder in munge state spool; do mkdir -m 755 "$work/$folder"; done

dd if=/dev/urandom of="$work/munge/key" bs=1024 count=1 2>/dev/null
chmod 400 "$work/munge/key"
munged --foreground --key-file="$work/munge/key" --socket="$work/munge/socket" --pid-file="$work/munge/pid" \
  --seed-file="$work/munge/seed" --log-file="$work/munge/log" >"$work/munged.out" 2>&1 &
started="$started $!"

# Two ports that nobody listens on, so that several such tests can run on one machine.
taken() {
  grep -qi ":$(printf %04X "$1") " /proc/net/tcp /proc/net/tcp6
}
port=$((10000 + $$ % 10000 * 2))
while taken "$port" || taken $((port + 1)); do port=$((port + 2)); done

node=$(hostname -s)
cores=$(nproc)
cat >"$work/slurm.conf" <<CONF
ClusterName=driftglow
SlurmctldHost=$node(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=$work/munge/socket
CredType=cred/munge
SlurmctldPort=$port
SlurmdPort=$((port + 1))
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
ProctrackType=proctrack/pgid
TaskPlugin=task/none
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
MailProg=/bin/true
NodeName=$node NodeAddr=127.0.0.1 CPUs=$cores State=UNKNOWN
PartitionName=all Nodes=$node Default=YES MaxTime=INFINITE State=UP
CONF
SLURM_CONF=$work/slurm.conf
export SLURM_CONF
slurmctld -D -f "$SLURM_CONF" >"$work/slurmctld.out" 2>&1 &
started="$started $!"
slurmd -D -f "$SLURM_CONF" -N "$node" >"$work/slurmd.out" 2>&1 &
started="$started $!"

tries=0
until scontrol show node "$node" 2>/dev/null | grep -qE 'State=(IDLE|MIXED|ALLOCATED)'; do
  tries=$((tries + 1))
  if [ "$tries" -gt 120 ]; then
    tail -n 5 "$work"/slurmctld.log "$work"/slurmd.log "$work"/*.out 2>/dev/null || true
    skip "Slurm does not start here"
  fi
  sleep 0.5
done

wait_for_jobs() {
  tries=0
  while [ -n "$(squeue --noheader 2>/dev/null)" ]; do
    tries=$((tries + 1))
    [ "$tries" -le 240 ] || { squeue; cat "$1"/*.log; echo "the jobs do not end"; exit 1; }
    sleep 0.5
  done
}

same() {
  cmp "$1" "$2" || { echo "$1 and $2 differ"; exit 1; }
}

# A flight.
"$driftglow" fly "$configs/plankton_column.yaml" --quiet --replicates 50 --out "$work/whole" >/dev/null
"$driftglow" fly "$configs/plankton_column.yaml" --replicates 50 --slurm 4 --out "$work/array" >"$work/submit.sh"
sh "$work/submit.sh"
wait_for_jobs "$work/array"
for file in summary.json summary.csv report.html; do same "$work/whole/$file" "$work/array/$file"; done

# A part is lost: submitted again, only that part is flown.
rm -r "$work/array/part_3_of_4" "$work/array/summary.csv"
before=$(stat -c %Y.%i "$work/array/part_1_of_4/flight.h5")
sh "$work/submit.sh"
wait_for_jobs "$work/array"
same "$work/whole/summary.csv" "$work/array/summary.csv"
[ "$before" = "$(stat -c %Y.%i "$work/array/part_1_of_4/flight.h5")" ] || { echo "a finished part was flown again"; exit 1; }

# A study.
cp "$configs/plankton_column.yaml" "$work/plankton_column.yaml"
cat >"$work/study.yaml" <<STUDY
scenario: plankton_column.yaml
vary: [{key: drive.driver.supply, values: [20 V, 22 V, 24 V, 26 V]}]
flights: {replicates: 16}
outputs: [{name: duty, path: "flight.tag_designs[plankton].fits[yellow-green].duty"}]
STUDY
"$driftglow" vary "$work/study.yaml" --quiet --out "$work/whole_study" >/dev/null
"$driftglow" vary "$work/study.yaml" --slurm 4 --out "$work/array_study" >"$work/submit_study.sh"
sh "$work/submit_study.sh"
wait_for_jobs "$work/array_study"
for file in study.json study.csv; do same "$work/whole_study/$file" "$work/array_study/$file"; done
echo "the job arrays gave the bytes of the unsplit runs"
