#!/bin/sh
# The long measurements, each as a table beside its goals. Takes a while; run it on a quiet machine.
#   sh deploy/bench.sh            all
#   sh deploy/bench.sh live       those whose file name holds the word
# Ends with 1 when one of them ended with a goal missed.
set -eu
. "$(dirname -- "$0")/environment.sh"
need chromium chromium fonts-dejavu-core
need ffmpeg ffmpeg
environment "[dev]"
cd "$ROOT"
missed=0
for file in tests/bench/bench_*"${1:-}"*.py; do
    name=$(basename "$file" .py)
    say "== $name"
    if grep -q '^def test_' "$file"; then
        STANDCLEAR_LONG=1 "$PYTHON" -m pytest "$file" -q -s -p no:cacheprovider --timeout=7200 || missed=1
    else
        "$PYTHON" -m "tests.bench.$name" || missed=1
    fi
done
exit $missed
