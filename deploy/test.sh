#!/bin/sh
# Installs what the tests need, then checks and tests everything.
#   sh deploy/test.sh            all
#   sh deploy/test.sh -k light   what is given is handed to pytest
set -eu
. "$(dirname -- "$0")/environment.sh"
need chromium chromium fonts-dejavu-core
need curl curl
need pdftoppm poppler-utils
need ffmpeg ffmpeg
need certutil libnss3-tools
need npm nodejs npm
need fusermount3 fuse3
need tc iproute2
need unshare util-linux
# With fonts, so that what is printed in any script is tested and not skipped.
environment "[dev,scripts]"
cd "$ROOT"

WEBTOOLS="$ROOT/.cache/webtools"
mkdir -p "$WEBTOOLS"
if ! cmp -s tests/webtools/package.json "$WEBTOOLS/package.json" || [ ! -d "$WEBTOOLS/node_modules" ]; then
    cp tests/webtools/package.json "$WEBTOOLS/"
    npm install --prefix "$WEBTOOLS" --no-package-lock --no-audit --no-fund --loglevel=error
fi

say "ruff";         "$ENVIRONMENT/bin/ruff" check .
say "ruff format";  "$ENVIRONMENT/bin/ruff" format --check .
say "mypy";         "$ENVIRONMENT/bin/mypy"
say "audit";        sh deploy/audit.sh >&2
say "tsc";          "$WEBTOOLS/node_modules/.bin/tsc" -p webclient/tsconfig.json
# Two at a time, a file to one worker: many tests wait for a service or a clock. Then the short form
# of the measurements, alone.
if [ $# -gt 0 ]; then
    say "pytest"; exec "$ENVIRONMENT/bin/pytest" "$@"
fi
say "pytest, measurements in their short form"; "$ENVIRONMENT/bin/pytest" tests/bench
say "pytest";                                   "$ENVIRONMENT/bin/pytest" -n 2 --dist loadfile --ignore=tests/bench
