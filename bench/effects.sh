#!/usr/bin/env bash
# Races the statistics against general libraries on the same data in one run: what moved
# the colour of 200 swatches by 8 factors (R's lme4 and lmerTest), and what colour an
# untried setting gives (scikit-learn's Gaussian processes). See bench-effects/README.md.
#
#   bench/effects.sh [DIR]     DIR holds the swatches and all answers
#
# RUNS (10) is how often each is fitted; FITS (2) how often the Gaussian processes are.
# Needs Go and, from Debian, r-cran-lme4 r-cran-lmertest python3-sklearn time.
set -euo pipefail
cd "$(dirname "$0")/.."
dir=${1:-${TMPDIR:-/tmp}/aerugo-bench-effects}
runs=${RUNS:-10}
fits=${FITS:-2}
python=${PYTHON:-/usr/bin/python3}

for need in go Rscript /usr/bin/time "$python"; do
  command -v "$need" >/dev/null || { echo "effects: $need is needed"; exit 1; }
done
Rscript -e 'library(lmerTest)' 2>/dev/null || { echo "effects: on Debian, apt-get install r-cran-lme4 r-cran-lmertest"; exit 1; }
"$python" -c 'import sklearn' || { echo "effects: on Debian, apt-get install python3-sklearn"; exit 1; }
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
mkdir -p "$dir"
rm -f "$dir"/*.log
for name in aerugo bench-effects bench-trials; do
  where=./bench/$name
  [ $name = aerugo ] && where=./cmd/aerugo
  CGO_ENABLED=0 go build -trimpath -o "$dir/$name" "$where"
done

# timed LOG COMMAND...: adds wall, user, sys seconds and peak KB as a line to LOG
timed() {
  local log=$1
  shift
  /usr/bin/time -a -o "$log" -f '%e %U %S %M' "$@"
}

uptime >"$dir/load.log"
"$dir/bench-effects" -runs "$runs" "$dir" >"$dir/ours.json"
Rscript bench/bench-effects/effects_lme4.R "$dir" "$runs" >"$dir/lme4.json"
ask=(effects "$dir/swatches.csv" --response b --factors metal,liquid,wetting,brushing,salt,strength,gap,hours --random day,run,swatch)
for ((i = 0; i < runs; i++)); do
  timed "$dir/program.log" "$dir/aerugo" "${ask[@]}" >/dev/null
  timed "$dir/ours.log" "$dir/bench-effects" -runs 1 "$dir" >/dev/null
  timed "$dir/lme4.log" Rscript bench/bench-effects/effects_lme4.R "$dir" 1 >/dev/null
  timed "$dir/lme4-start.log" Rscript -e 'suppressPackageStartupMessages(library(lmerTest))' >/dev/null
done
for ((i = 0; i < fits; i++)); do
  timed "$dir/guess.log" "$dir/bench-trials" -against "$dir" >>"$dir/guess-said.log"
  timed "$dir/sklearn.log" "$python" bench/bench-trials/fit_sklearn.py "$dir" >>"$dir/sklearn-said.log"
done
uptime >>"$dir/load.log"
"$python" bench/bench-effects/table.py "$dir"
