#!/bin/sh
# Installs what is needed, builds everything and runs all tests. Arguments go to ctest (e.g. -R store).
set -eu
cd "$(dirname "$0")/.."

tools/setup.sh
tools/build.sh release all
ctest --preset release -j "$(nproc)" "$@"
