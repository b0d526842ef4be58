#!/bin/sh
# Makes the environment, then serves. Without arguments: the rehearsal set, no camera needed.
#   sh deploy/start.sh                       the rehearsal set
#   sh deploy/start.sh --camera tethered     a camera on the cable
#   sh deploy/start.sh --help                all options of `standclear serve`
set -eu
. "$(dirname -- "$0")/environment.sh"
environment ""
if [ $# -eq 0 ]; then set -- --camera rehearsal; fi
exec "$ENVIRONMENT/bin/standclear" serve "$@"
