#!/usr/bin/env bash
# Three hundred drawn photographs of known swatches, read as a person's are: about three
# minutes on two cores. SHOTS=2000+500 takes others.
set -euo pipefail
cd "$(dirname "$0")/.."
AERUGO_SHOTS=${SHOTS:-1000+300} go test ./internal/flow/scene -run TestPhotographsOfKnownSwatchesReadTrue -count=1 -v | grep -v '^=== '
