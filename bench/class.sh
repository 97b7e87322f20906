#!/usr/bin/env bash
# Lives through a class of twelve students on one laptop: twelve browsers over TCP with
# their live streams, taps, words and 12-megapixel photographs of both faces, every
# third phone out of reach for a while, the teacher's two pages beside them. Checks that
# every tap is kept once, and prints how long each kind of request took.
#
#   bench/class.sh         TIMES (1) is how often
set -euo pipefail
cd "$(dirname "$0")/.."
command -v go >/dev/null || { echo "class: go is needed"; exit 1; }
go test ./internal/web -count 1 -timeout 1h -run '^$' -bench '^BenchmarkTwelveStudents$' -benchtime "${TIMES:-1}x"
