#!/bin/sh
# compare_compilers.sh: builds driftglow with g++ and with clang++ (in build/compare_g++ and build/compare_clang++), flies
# the demo with 32 replicates on every instruction set of this machine with 1, 2 and 7 threads, and compares all data of
# flight.h5 (but for /provenance) and summary.csv. Which must agree: compilers and thread counts on each set, avx2 and
# avx512. One line a comparison; exit status 1 when one differs.
set -eu
cd "$(dirname "$0")/.."

for need in g++ clang++; do
  command -v "$need" >/dev/null && continue
  package=${need#clang++}
  echo "compare_compilers: $need is missing; on Debian: apt-get install ${package:-clang}" >&2
  exit 1
done
# Debian's, which has h5py.
python=/usr/bin/python3
if ! "$python" -c "import h5py" 2>/dev/null; then
  echo "compare_compilers: $python has no h5py; on Debian: apt-get install python3-h5py" >&2
  exit 1
fi

compilers="g++ clang++"
threads="1 2 7"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

for compiler in $compilers; do
  build=build/compare_$compiler
  echo "compare_compilers: building with $compiler in $build"
  if ! { cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=Release -DBUILD_TESTING=OFF \
               -DCMAKE_CXX_COMPILER="$compiler" &&
         cmake --build "$build" --target driftglow -j "${CMAKE_BUILD_PARALLEL_LEVEL:-$(nproc)}"; } >"$work/log" 2>&1; then
    cat "$work/log" >&2
    exit 1
  fi
done

program() {
  find "build/compare_$1" -name driftglow -type f -perm -u+x | head -n 1
}

# Exit status 2 is "not on this machine", which cannot be for the first two.
sets="scalar baseline"
for set in avx2 avx512; do
  status=0
  "$(program g++)" fly configs/plankton_column.yaml --replicates 1 --instructions "$set" --quiet --out "$work/probe" \
    >/dev/null 2>"$work/log" || status=$?
  case $status in
    0) sets="$sets $set" ;;
    2) echo "$set: not compared, $(cat "$work/log")" ;;
    *) cat "$work/log" >&2; exit 1 ;;
  esac
done

for compiler in $compilers; do
  for set in $sets; do
    for count in $threads; do
      "$(program "$compiler")" fly configs/plankton_column.yaml --replicates 32 --instructions "$set" --threads "$count" \
        --quiet --out "$work/$compiler/$set/$count" >/dev/null
    done
  done
done

cat >"$work/compare.py" <<'END'
import sys

import h5py


def content(folder):
    found = {"summary.csv": open(folder + "/summary.csv", "rb").read()}
    with h5py.File(folder + "/flight.h5") as file:

        def take(name, item):
            if name.split("/")[0] == "provenance":
                return
            for key, value in item.attrs.items():
                found[f"flight.h5 {name}@{key}"] = repr(value)
            if isinstance(item, h5py.Dataset):
                values = item[()]
                found[f"flight.h5 {name}"] = (item.dtype.str, item.shape, values.tobytes())

        take("", file)
        file.visititems(take)
    return found


what, first, second = sys.argv[1:]
a, b = content(first), content(second)
apart = sorted(k for k in a.keys() | b.keys() if a.get(k) != b.get(k))
print(f"{what}: " + (f"DIFFERENT in {len(apart)} of {len(a)}, e.g. {apart[0]}" if apart else f"same ({len(a)} parts)"))
sys.exit(bool(apart))
END

differ=0
compare() {
  "$python" "$work/compare.py" "$1" "$work/$2" "$work/$3" || differ=1
}
for set in $sets; do
  for compiler in $compilers; do
    for count in $threads; do
      [ "$compiler $count" = "g++ 1" ] ||
        compare "$set, g++ on 1 thread and $compiler on $count" "g++/$set/1" "$compiler/$set/$count"
    done
  done
done
case $sets in
  *avx2*avx512*) compare "avx2 and avx512, g++ on 1 thread" "g++/avx2/1" "g++/avx512/1" ;;
esac
exit "$differ"
