#!/bin/bash
# install_test.sh BUILD SOURCE: installs what is built under one prefix, moves it to another, and uses it from there: the
# program in an empty environment, the libraries from a project of their own.
set -eu
build=$1
source=$2
work=$build/tests/install/work
rm -rf "$work"
mkdir -p "$work/empty"
fail() {
  echo "install: $*" >&2
  exit 1
}

cmake --install "$build" --prefix "$work/first" >"$work/install.log" || fail "$(cat "$work/install.log")"
mv "$work/first" "$work/moved"
prefix=$work/moved
program=$prefix/bin/driftglow
examples=$prefix/share/doc/driftglow/examples

# Nothing installed knows the folders it came from.
if grep -rlF -e "$source" -e "$build" -e "$work/first" "$prefix"; then
  fail "the files above name a folder of the build"
fi

# The program with nothing but itself: tables (a library emitter, wire), report, scenario.
cd "$work/empty"
env -i "$program" --version | grep -q '^driftglow [0-9]' || fail "--version"
env -i "$program" keys | grep -q 'tags\[\].receiver' || fail "keys"
env -i "$program" sheet "$examples/plankton_column.yaml" >sheet.txt || fail "sheet"
[ ! -e out ] || fail "the sheet wrote files"
env -i "$program" fly "$examples/plankton_column.yaml" --replicates 1 --quiet >/dev/null || fail "fly"
grep -q '</html>' out/plankton_column/report.html || fail "no whole report"
env -i "$DRIFTGLOW" fly "$source/configs/plankton_column.yaml" --replicates 1 --quiet --out built >/dev/null
for file in report.html summary.csv summary.json; do
  cmp "out/plankton_column/$file" "built/$file" || fail "$file differs from that of the build tree's program"
done

# The libraries. Physics alone must not look for what only the engine wants.
configure() { cmake -S "$examples/library" -DCMAKE_PREFIX_PATH="$prefix" -DCMAKE_CXX_COMPILER="$CXX" "$@"; }
configure -B "$work/physics" -DWITH_SIM=OFF -DCMAKE_DISABLE_FIND_PACKAGE_HDF5=ON \
  -DCMAKE_DISABLE_FIND_PACKAGE_yaml-cpp=ON -DCMAKE_DISABLE_FIND_PACKAGE_fmt=ON >"$work/physics.log" 2>&1 ||
  fail "$(cat "$work/physics.log")"
{ configure -B "$work/both" && cmake --build "$work/both" -j2; } >"$work/both.log" 2>&1 ||
  fail "$(cat "$work/both.log")"
# On the axis of a turn B = mu0 I a^2 / (2 (a^2 + z^2)^(3/2)), Biot and Savart; to the digits printed.
"$work/both/turn_field" | awk '
  BEGIN { mu0 = 1.25663706127e-6; a = 0.1 }
  { z = $1 + 0; want = mu0 * a^2 / (2 * (a^2 + z^2)^1.5); off = $3 / want - 1; n++
    if (off > 1e-9 || off < -1e-9) { print "turn_field: " $0 ", expected " want; bad = 1 } }
  END { exit bad || n != 3 }' || fail "the field of a turn"
# A uniform direction in a uniform field of 40 uT with a threshold of 18 uT: 1 - 18/40 (closed form). Four standard
# errors, of which the interval printed is 2.13 with 16 replicates (Student's t, 15 degrees of freedom).
"$work/both/duty" "$examples/check_uniform_field.yaml" | awk '
  { off = $(NF - 1) - 0.55; limit = 4 / 2.13 * $NF; n++
    if (off > limit || off < -limit || limit > 0.01) { print "duty: " $0; bad = 1 } }
  END { exit bad || n != 1 }' || fail "the duty in a uniform field"
"$work/both/duty" "$work/none.yaml" 2>said.txt && fail "a missing scenario was accepted"
grep -q none.yaml said.txt || fail "the missing scenario is not named"

# Refusals of find_package.
refused() {
  mkdir -p "$work/refused"
  printf 'cmake_minimum_required(VERSION 3.25)\nproject(refused LANGUAGES %s)\nfind_package(driftglow %s)\n' "$1" "$2" \
    >"$work/refused/CMakeLists.txt"
  rm -rf "$work/refused/build"
  if cmake -S "$work/refused" -B "$work/refused/build" -DCMAKE_PREFIX_PATH="$prefix" >"$work/refused.log" 2>&1; then
    fail "find_package(driftglow $2) with $1 was accepted"
  fi
  tr -s ' \n' ' ' <"$work/refused.log" | grep -qF "$3" || fail "no \"$3\" in: $(cat "$work/refused.log")"
}
refused CXX "99 REQUIRED" "compatible with requested version \"99\""
refused CXX "REQUIRED COMPONENTS tables" "driftglow has no component \`tables\`; expected models or sim"
refused CXX "REQUIRED COMPONENTS sim" "HDF5 is looked for with a C compiler"
rm -rf "$work"
