#!/bin/sh
# wide_symbols.sh SET OBJECT: fails when the object, compiled for instruction set SET, holds code that a machine without
# it could be made to run: a weak or global function whose name does not carry the set's (the linker keeps one of many
# such functions and may keep this one), or wide instructions in what runs when the program starts.
set -eu

set_name=$1
object=$2

symbols=$(nm --defined-only "$object")
[ -n "$symbols" ] || { echo "wide_symbols: $object has no symbols" >&2; exit 2; }

# T: global function, W: weak one, i: one chosen when the program starts.
shared=$(echo "$symbols" | awk -v name="$set_name" '$2 ~ /^[TWi]$/ && index($3, name) == 0 { print $3 }')
for symbol in $shared; do
  echo "$object: $symbol does not carry the name $set_name" | c++filt >&2
done

# AT&T syntax: mnemonics of wide instructions begin with v or k.
started=$(objdump --disassemble --no-show-raw-insn --section=.text.startup "$object" 2>/dev/null |
          awk -F '\t' '$2 ~ /^(v[a-z0-9]+|k(mov|or|and|not|xor|unpck|shift|test|add)[a-z]*) / { print $2 }')
[ -z "$started" ] || echo "$object: runs when the program starts: $started" >&2

[ -z "$shared$started" ]
