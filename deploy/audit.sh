#!/bin/sh
# Looks the dependencies over: do they fit together, are their licences known and free, are the web
# tools those that were pinned; and, where a network answers, is a vulnerability known of any of them.
#   sh deploy/audit.sh
# Ends with 1 when something is wrong. What needs a network says so when there is none, and is passed over.
set -eu
. "$(dirname -- "$0")/environment.sh"
environment "[dev]"
cd "$ROOT"
wrong=0

say "pip check";  "$ENVIRONMENT/bin/pip" check || wrong=1
say "licences";   "$PYTHON" deploy/licences.py || wrong=1

WEBTOOLS="$ROOT/.cache/webtools"
if [ -d "$WEBTOOLS/node_modules" ]; then
    say "npm: what is there is what was pinned"
    npm ls --prefix "$WEBTOOLS" --depth=0 --offline || wrong=1
    say "npm audit"
    npm audit --prefix "$WEBTOOLS" --omit=optional --fetch-timeout=8000 --fetch-retries=0 \
        || say "passed over or something found: see above"
fi

if [ -x "$ENVIRONMENT/bin/pip-audit" ]; then
    say "pip-audit"
    if ! "$ENVIRONMENT/bin/pip-audit" --local --skip-editable --timeout 8 --progress-spinner off; then
        say "passed over or something found: see above"
    fi
else
    say "pip-audit is not installed: known vulnerabilities were not asked for"
fi
exit $wrong
