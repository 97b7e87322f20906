#!/usr/bin/env bash
# Times `aerugo measure` beside the same steps in general libraries, on the same
# 12-megapixel photographs, and compares what the two read. See README.md.
#
#   bench/compare.sh [DIR]     DIR holds, or gets, the photographs and all answers
#
# RUNS (5) is how often each of the first PHOTOS (5) is measured.
# Needs Go and, from Debian, python3-skimage python3-sklearn python3-opencv time.
set -euo pipefail
cd "$(dirname "$0")/.."
dir=${1:-${TMPDIR:-/tmp}/aerugo-bench}
runs=${RUNS:-5}
few=${PHOTOS:-5}
python=${PYTHON:-/usr/bin/python3}

for need in go /usr/bin/time "$python"; do
  command -v "$need" >/dev/null || { echo "compare: $need is needed"; exit 1; }
done
"$python" -c 'import cv2, skimage, sklearn' || {
  echo "compare: on Debian, apt-get install python3-skimage python3-sklearn python3-opencv"
  exit 1
}
mkdir -p "$dir"
[ -f "$dir/marks" ] || go run ./bench/make "$dir"
CGO_ENABLED=0 go build -trimpath -o "$dir/aerugo" ./cmd/aerugo

corners='' grey='' bare='' size=''
. "$dir/marks"
all=("$dir"/photo-*.jpg)
first=("${all[@]:0:$few}")
ours=("$dir/aerugo" measure --json --corners "$corners" --grey "$grey" --bare="$bare" --size "$size")
theirs=("$python" bench/measure_skimage.py --marks "$dir/marks")

# timed LOG COMMAND...: adds wall, user, sys seconds and peak KB as a line to LOG
timed() {
  local log=$1
  shift
  /usr/bin/time -a -o "$log" -f '%e %U %S %M' "$@"
}

rm -f "$dir"/*.log "$dir"/*.json
echo "# one process a photograph: ${#first[@]} photographs, $runs times each" >&2
for photo in "${first[@]}"; do
  for ((i = 0; i < runs; i++)); do
    # one by the other, so that a busy spell of the machine hits both
    timed "$dir/ours.log" "${ours[@]}" "$photo" >/dev/null
    timed "$dir/gap.log" "${theirs[@]}" "$photo" >/dev/null
    timed "$dir/silhouette.log" "${theirs[@]}" --choose silhouette "$photo" >/dev/null
    timed "$dir/plain.log" "${theirs[@]}" --by skimage "$photo" >/dev/null
    timed "$dir/half.log" "${theirs[@]}" --by half "$photo" >/dev/null
    timed "$dir/ours-start.log" "$dir/aerugo" version >/dev/null
  done
done

echo "# one process, start excluded" >&2
"${theirs[@]}" --runs "$runs" "${first[@]}" >"$dir/gap-inside.json"
"${theirs[@]}" --runs "$runs" --choose silhouette "${first[@]}" >"$dir/silhouette-inside.json"
"${theirs[@]}" --runs "$runs" --by skimage "${first[@]}" >"$dir/plain-inside.json"
"${theirs[@]}" --runs "$runs" --by half "${first[@]}" >"$dir/half-inside.json"

echo "# all ${#all[@]} photographs on two cores" >&2
GOMAXPROCS=2 timed "$dir/ours-all.log" "${ours[@]}" "${all[@]}" >"$dir/ours-all.json"
timed "$dir/gap-all.log" "${theirs[@]}" --jobs 2 "${all[@]}" >"$dir/gap-all.json"
"${theirs[@]}" --jobs 2 --by half "${all[@]}" >"$dir/half-all.json"
"${theirs[@]}" --jobs 2 --seed 2 "${all[@]}" >"$dir/again-all.json" # the libraries against themselves

"$python" bench/table.py "$dir"
