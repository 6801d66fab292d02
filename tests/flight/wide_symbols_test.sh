#!/bin/sh
# wide_symbols_test.sh EXAMPLE SET=OBJECT...: the objects must pass wide_symbols.sh, and the example, which has both
# faults, must fail for both.
set -eu
check=$(dirname "$0")/wide_symbols.sh
example=$1
shift

for pair; do
  sh "$check" "${pair%%=*}" "${pair#*=}"
  echo "${pair#*=}: passed"
done

if found=$(sh "$check" avx2 "$example" 2>&1); then
  echo "wide_symbols_test: the example passed" >&2
  exit 1
fi
echo "$found"
for fault in "does not carry the name avx2" "runs when the program starts"; do
  case $found in
    *"$fault"*) ;;
    *) echo "wide_symbols_test: the example failed without \"$fault\"" >&2; exit 1 ;;
  esac
done
