#!/usr/bin/env bash
# Lives through bench days of twelve hours with fixed seeds on the real server and store,
# then measures how soon such days are planned. Prints the figures of bench/timetable.md.
#
#   bench/days.sh          DAYS (200) is how many days, FIRST (1) the seed of the first
set -euo pipefail
cd "$(dirname "$0")/.."
command -v go >/dev/null || { echo "days: go is needed"; exit 1; }
go test ./internal/web -count 1 -timeout 4h -run '^TestSimulatedBenchDays$' -v -days "${DAYS:-200}" -first "${FIRST:-1}"
go test ./internal/flow/benchday -run '^$' -bench 'Make|Again' -benchtime 3x
