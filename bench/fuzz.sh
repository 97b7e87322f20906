#!/usr/bin/env bash
# Throws damaged bytes at every reader of bytes from outside, one after the other.
#
#   bench/fuzz.sh [MINUTES] [PATTERN]     MINUTES (60) are shared out evenly;
#                                         PATTERN chooses among package:test names
#
# WORKERS (1) run at a time. A crash is kept by Go in the package's testdata/fuzz
# and ends the script; when nothing crashed, one line a reader says how many
# inputs it was given.
set -euo pipefail
cd "$(dirname "$0")/.."
minutes=${1:-60}
pattern=${2:-.}

mapfile -t all < <(grep -rHo --include='*_test.go' '^func Fuzz[A-Za-z0-9]*' internal | sed -E 's|^(.*)/[^/]*:func |\1:|' | sort | grep -E "$pattern")
[ ${#all[@]} -gt 0 ] || { echo "fuzz: no reader is called like $pattern" >&2; exit 2; }
each=$((minutes * 60 / ${#all[@]}))
for one in "${all[@]}"; do
  log=$(mktemp)
  if ! go test "./${one%%:*}" -run '^$' -fuzz "^${one##*:}\$" -fuzztime "${each}s" -parallel "${WORKERS:-1}" >"$log" 2>&1; then
    cat "$log"
    echo "fuzz: $one crashed" >&2
    exit 1
  fi
  printf '%-48s %4d s  %s inputs, no crash\n' "$one" "$each" "$(grep -o 'execs: [0-9]*' "$log" | tail -1 | cut -d' ' -f2)"
  rm "$log"
done
