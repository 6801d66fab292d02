#!/bin/bash
# documents_test.sh FOLDER: manual page and completion against what the program itself says by --help and `keys`, and in
# the shells and formatter there are; all come with tools/setup.sh.
set -eu
work=$1
rm -rf "$work"
mkdir -p "$work/here/below"
cd "$work/here"
fail() {
  echo "documents: $*" >&2
  exit 1
}
missing=""
for tool in man fish zsh; do
  command -v "$tool" >/dev/null || missing="$missing $tool"
done
[ -z "$missing" ] || { echo "documents: skipped, tools/setup.sh installs what is missing:$missing"; exit 77; }

"$DRIFTGLOW" manual >"$work/driftglow.1"
for shell in bash zsh fish; do
  "$DRIFTGLOW" completion $shell >"$work/$shell"
  "$shell" -n "$work/$shell" || fail "$shell does not take its script"
done
"$DRIFTGLOW" completion csh 2>said && fail "csh was accepted"
grep -q 'no scripts for `csh`; expected bash zsh fish' said || fail "csh: $(cat said)"
rm said

# The formatter has nothing to complain of, and what it sets holds every command, option and key.
LC_ALL=C.UTF-8 MANWIDTH=400 man --warnings -E UTF-8 -l "$work/driftglow.1" 2>"$work/warnings" | col -bx >"$work/page"
[ ! -s "$work/warnings" ] || fail "man: $(cat "$work/warnings")"
grep -q 'driftglow - simulate' "$work/page" || fail "no NAME"
"$DRIFTGLOW" keys | sed -n 's/^  \([a-z][a-z_.]*\(\[\][a-z_.]*\)*\)$/\1/p' >"$work/keys"
[ "$(wc -l <"$work/keys")" -gt 200 ] || fail "keys lists few"
while read -r key; do
  grep -qF -- "$key" "$work/page" || fail "the manual page lacks the key $key"
  grep -qF -- "${key//[\[\]]/}" "$work/bash" || fail "bash does not complete the key $key"
done <"$work/keys"

commands=$("$DRIFTGLOW" --help | sed -n '/^Subcommands:/,/^$/s/^  \([a-z]*\) .*/\1/p')
[ "$(echo "$commands" | wc -l)" -ge 10 ] || fail "--help lists few commands: $commands"

# What bash offers for a line; its last word may be empty.
offers() {
  bash -c 'source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _driftglow; printf "%s\n" "${COMPREPLY[@]}"' \
    offers "$work/bash" "$@"
}
offered() {  # WANTED WORD...: the wanted stands among the offers
  local wanted=$1
  shift
  offers "$@" | grep -qxF -- "$wanted" || fail "bash offers no $wanted for: $*"
}
fish_offers() { fish --no-config -c "source '$work/fish'; complete -C '$1'" | cut -f1; }
for command in $commands; do
  grep -q "^   *driftglow $command" "$work/page" || fail "the manual page lacks $command"
  offered "$command" driftglow "${command:0:2}"
  grep -q "'$command:" "$work/zsh" || fail "zsh does not complete $command"
  fish_offers "driftglow ${command:0:2}" | grep -qx "$command" || fail "fish does not complete $command"
  fish_offers "driftglow $command --" >"$work/fish_options"
  for option in $("$DRIFTGLOW" "$command" --help | grep -oE '^  (-h,)?--[a-z-]+' | grep -oE -- '--[a-z-]+'); do
    sed -n "/^   *driftglow $command/,/^   *driftglow /p" "$work/page" | grep -qF -- "$option" ||
      fail "the manual page lacks $option of $command"
    offered "$option" driftglow "$command" "$option"
    sed -n "/^        $command)/,/;;/p" "$work/zsh" | grep -qF -- "'$option" || fail "zsh: no $option of $command"
    grep -qxF -- "$option" "$work/fish_options" || fail "fish does not complete $option of $command"
  done
done

# Files by what the command takes, folders, words.
touch one.yaml "two words.yaml" flight.h5 notes.txt
offered one.yaml driftglow fly on
offered "two words.yaml" driftglow fly tw
offered below driftglow fly ""
offers driftglow fly "" | grep -q 'notes.txt\|flight.h5' && fail "fly offers what is no scenario"
offered one.yaml driftglow tune two.yaml on
offered flight.h5 driftglow show ""
offered flight.h5 driftglow join a.h5 b.h5 ""
offered below driftglow fly --out ""
offered below driftglow fly --out = ""
offers driftglow fly --out "" | grep -q yaml && fail "--out offers files"
offered avx2 driftglow fly x.yaml --instructions av
[ -z "$(offers driftglow fly --threads "")" ] || fail "a number is offered"
[ -z "$(offers driftglow fly x.yaml "")" ] || fail "a second scenario is offered"
offered one.yaml driftglow fly --threads 2 on
offered zsh driftglow completion z
offered drive.coils.pitch driftglow keys drive.coils.pi
fish_offers "driftglow keys drive.coils.pi" | grep -qx drive.coils.pitch || fail "fish offers no key"
fish_offers "driftglow fly on" | grep -qx one.yaml || fail "fish offers no scenario"

# A key named so is shown, alone.
"$DRIFTGLOW" keys drive.coils.pitch >"$work/pitch"
grep -q '^  drive.coils\[\].pitch$' "$work/pitch" || fail "keys drive.coils.pitch"
[ "$("$DRIFTGLOW" keys drive.coils.pitch | grep -c '^  [a-z]')" = 1 ] || fail "keys shows more than was asked for"
[ "$("$DRIFTGLOW" keys flight | grep -c '^  flight')" -gt 5 ] || fail "keys flight"
"$DRIFTGLOW" keys drive.coils.pitc 2>said && fail "a misspelt key was accepted"
grep -q 'there is no key `drive.coils.pitc`; did you mean `drive.coils.pitch`?' said || fail "pitc: $(cat said)"
rm -rf "$work"
