#!/bin/bash
# package_test.sh BUILD SOURCE: makes the Debian packages of what is built, has lintian look at them, unpacks them elsewhere
# and flies the demo from there.
set -eu
build=$1
source=$2
work=$build/tests/install/package
rm -rf "$work"
mkdir -p "$work"
fail() {
  echo "package: $*" >&2
  exit 1
}
missing=""
for tool in lintian dpkg-shlibdeps dpkg-deb fakeroot; do
  command -v "$tool" >/dev/null || missing="$missing $tool"
done
[ -z "$missing" ] || { echo "package: skipped, tools/setup.sh installs what is missing:$missing"; exit 77; }

cpack --config "$build/CPackConfig.cmake" -B "$work" >"$work/cpack.log" 2>&1 || fail "$(cat "$work/cpack.log")"
program=$(ls "$work"/driftglow_*.deb)
development=$(ls "$work"/libdriftglow-dev_*.deb)
lintian --allow-root "$program" "$development" >"$work/lintian.log" 2>&1 || true
cat "$work/lintian.log"
[ -z "$(grep '^E:' "$work/lintian.log")" ] || fail "lintian finds errors"
grep -q 'bad-package-name\|cannot\|fatal' "$work/lintian.log" && fail "lintian could not look"

field() { dpkg-deb -f "$1" "$2"; }
[ "$(field "$program" Package)" = driftglow ] || fail "Package"
field "$program" Maintainer | grep -q 'driftglow maintainers' || fail "Maintainer"
# By dpkg-shlibdeps from the program itself.
for library in libc6 libhdf5 libyaml-cpp libfmt libnlopt; do
  field "$program" Depends | grep -q "$library" || fail "no $library in: $(field "$program" Depends)"
done
field "$development" Depends | grep -q libeigen3-dev || fail "the libraries' package depends on no Eigen"

mkdir "$work/elsewhere" "$work/run"
for package in "$program" "$development"; do
  dpkg-deb -x "$package" "$work/elsewhere"
done
usr=$work/elsewhere/usr
gzip -t "$usr/share/man/man1/driftglow.1.gz" "$usr"/share/doc/*driftglow*/changelog.Debian.gz || fail "compression"
for name in driftglow libdriftglow-dev; do
  grep -q 'driftglow authors' "$usr/share/doc/$name/copyright" || fail "no copyright of $name"
done
for file in bash-completion/completions/driftglow zsh/vendor-completions/_driftglow \
  fish/vendor_completions.d/driftglow.fish doc/driftglow/CHANGELOG.md doc/driftglow/README.md; do
  [ -s "$usr/share/$file" ] || fail "no $file"
done
[ -z "$(nm "$usr/bin/driftglow" 2>/dev/null)" ] || fail "the program is not stripped"

cd "$work/run"
env -i "$usr/bin/driftglow" sheet "$usr/share/doc/driftglow/examples/plankton_column.yaml" >packed
"$DRIFTGLOW" sheet "$source/configs/plankton_column.yaml" >built
cmp packed built || fail "the packed program's sheet differs"
env -i "$usr/bin/driftglow" fly "$usr/share/doc/driftglow/examples/plankton_column.yaml" --replicates 1 --quiet \
  --out out >/dev/null || fail "fly"
grep -q '</html>' out/report.html || fail "no report"
rm -rf "$work"
