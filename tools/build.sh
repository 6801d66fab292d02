#!/bin/sh
# build.sh PRESET TARGET...: configures and builds into build/PRESET; prints the steps only when one fails.
set -eu
cd "$(dirname "$0")/.."

preset=$1
shift
log=build/$preset.log
mkdir -p build
echo "build: $*, $preset (log in $log)"
if ! { cmake --preset "$preset" &&
       cmake --build --preset "$preset" --target "$@" -j "$(nproc)"; } >"$log" 2>&1; then
  cat "$log" >&2
  echo "build: failed" >&2
  exit 1
fi
