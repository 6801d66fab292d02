#!/bin/sh
# Installs the Debian 12 packages that driftglow is built, tested and run with. As root, or with sudo; does nothing
# when all are there. `coverage` and `fuzz` as arguments add what those tools want besides.
set -eu

packages="
  g++ cmake ninja-build git
  libeigen3-dev libboost-dev libboost-math-dev libpcg-cpp-dev libhdf5-dev libyaml-cpp-dev
  libfmt-dev libcli11-dev nlohmann-json3-dev libssl-dev libnlopt-cxx-dev
  doctest-dev libgsl-dev libsundials-dev libbenchmark-dev
  zlib1g-dev chromium
  python3 python3-h5py python3-numpy python3-scipy python3-jsonschema python3-yaml
"

for task in "$@"; do
  case $task in
    coverage) packages="$packages gcovr" ;;
    fuzz) packages="$packages clang libclang-rt-14-dev" ;;
    *) echo "setup: $task is no task; expected coverage or fuzz" >&2; exit 2 ;;
  esac
done

# Any Node.js from 18 on will do.
command -v node >/dev/null || packages="$packages nodejs"
command -v npm >/dev/null || packages="$packages npm"

# What the browser test is run with; nothing else needs npm.
browser_packages() {
  browser=$(dirname "$0")/../tests/browser
  cmp -s "$browser/package-lock.json" "$browser/node_modules/.from-lock" && return 0
  echo "setup: installing the browser test's packages"
  (cd "$browser" && npm ci --silent --ignore-scripts </dev/null >&2 &&
    cp package-lock.json node_modules/.from-lock)
}

missing=""
for package in $packages; do
  state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null || true)
  [ "$state" = installed ] || missing="$missing $package"
done
if [ -z "$missing" ]; then
  browser_packages
  exit 0
fi

if [ "$(id -u)" -eq 0 ]; then
  as_root=""
elif command -v sudo >/dev/null; then
  as_root="sudo"
else
  echo "setup: run as root, or install sudo; missing:$missing" >&2
  exit 1
fi

log=$(mktemp)
trap 'rm -f "$log"' EXIT

# apt-get is quiet unless it fails.
apt() {
  # shellcheck disable=SC2086
  $as_root env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=300 "$@" \
    </dev/null >"$log" 2>&1
}

echo "setup: installing$missing"
# The lists may be absent (a bare container) or too old for what the servers hold now.
# shellcheck disable=SC2086
if ! apt install -y --no-install-recommends $missing; then
  if ! apt update || ! apt install -y --no-install-recommends $missing; then
    cat "$log" >&2
    echo "setup: the packages could not be installed" >&2
    exit 1
  fi
fi
browser_packages
