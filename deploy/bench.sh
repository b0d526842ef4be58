#!/bin/sh
# The long measurements, each as a table beside its goals. Takes a while; run it on a quiet machine.
#   sh deploy/bench.sh            all
#   sh deploy/bench.sh live       those whose file name holds the word
set -eu
. "$(dirname -- "$0")/environment.sh"
environment "[dev]"
cd "$ROOT"
STANDCLEAR_LONG=1 exec "$PYTHON" -m pytest tests/bench -q -s -p no:cacheprovider -k "${1:-bench}" --timeout=7200
