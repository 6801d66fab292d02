#!/bin/sh
# Installs what is needed, builds the program and flies the plankton column. Arguments go to `driftglow fly`
# (e.g. --replicates 4).
set -eu
cd "$(dirname "$0")/.."

tools/setup.sh
tools/build.sh release driftglow

out=out/plankton_column
build/release/bin/driftglow fly configs/plankton_column.yaml --out "$out" "$@"
echo
echo "The report is $PWD/$out/report.html (open it in a browser)."
