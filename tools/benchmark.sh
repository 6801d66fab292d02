#!/bin/sh
# Installs what is needed, builds the flight's benchmark and runs it on the plankton column: medians of five
# repetitions, half a minute. Arguments go to it (e.g. --benchmark_filter=avx2). Leave the machine alone meanwhile.
set -eu
cd "$(dirname "$0")/.."

tools/setup.sh
tools/build.sh release flight_benchmark

failed=$(mktemp)
trap 'rm -f "$failed"' EXIT
{
  build/release/bin/flight_benchmark configs/plankton_column.yaml --benchmark_repetitions=5 \
    --benchmark_min_time=0.1 --benchmark_report_aggregates_only=true --benchmark_counters_tabular=true "$@" ||
    echo yes >"$failed"
} | sed -n -e '/^Benchmark/p' -e '/_median/s/_median/       /p'
[ ! -s "$failed" ]
