# Sourced by the scripts beside it: finds Python 3.11 or newer and makes the environment.
# Sets ROOT, PYTHON (of the environment). Nothing outside the project's folder is touched,
# except that Debian's packages named by need() are installed where they are missing.

ROOT=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
ENVIRONMENT=${STANDCLEAR_ENVIRONMENT:-"$ROOT/.venv"}
PYTHON="$ENVIRONMENT/bin/python"

say() { printf '%s\n' "$*" >&2; }

as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi
}

# need COMMAND PACKAGE...: install Debian packages when the command is missing.
need() {
    command=$1
    shift
    command -v "$command" >/dev/null 2>&1 && return 0
    if ! command -v apt-get >/dev/null 2>&1; then
        say "$command is missing; install it (Debian's packages: $*) and try again."
        exit 1
    fi
    say "Installing $* ..."
    as_root apt-get update -qq
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

find_python() {
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$candidate" >/dev/null 2>&1 &&
            "$candidate" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
            printf '%s\n' "$candidate"
            return
        fi
    done
    need python3.11 python3 python3-venv
    as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq python3-venv >/dev/null
    printf 'python3\n'
}

# environment EXTRAS: make or renew the environment when pyproject.toml changed since.
environment() {
    wanted="$1 $(cksum <"$ROOT/pyproject.toml")"
    stamp="$ENVIRONMENT/.standclear-$(printf '%s' "$1" | tr -c 'a-z\n' _)"
    if [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$wanted" ]; then return 0; fi
    say "Preparing the environment in $ENVIRONMENT (the first time takes a minute or two) ..."
    [ -x "$PYTHON" ] || "$(find_python)" -m venv "$ENVIRONMENT"
    "$PYTHON" -m pip install -q --disable-pip-version-check -e "$ROOT$1"
    printf '%s' "$wanted" >"$stamp"
}
