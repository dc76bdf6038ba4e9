#!/bin/sh
# Sets Heelmark up in this checkout and runs the whole job on embedded defaults.
#
#   sh deploy/up.sh           everything a shop needs: database, broker, service, worker
#   sh deploy/up.sh --demo    and simulated cylinders, so that verdicts appear by themselves
#
# HEELMARK_PYTHON names the Python to use; the other settings are in the README's table.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"

say() { printf '%s\n' "$*"; }
refuse() {
    printf 'Heelmark cannot start: %s\n' "$*" >&2
    exit 1
}

recent_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

find_python() {
    for candidate in ${HEELMARK_PYTHON:-python3 python3.14 python3.13 python3.12 python3.11 python}; do
        if command -v "$candidate" >/dev/null 2>&1 && recent_enough "$candidate"; then
            command -v "$candidate"
            return 0
        fi
    done
    return 1
}

make_environment() {
    python=$(find_python) || refuse "it needs Python 3.11 or newer, and ${HEELMARK_PYTHON:-no python3 on the path} is not. Install one, or name it: HEELMARK_PYTHON=/path/to/python3 sh deploy/up.sh"
    say "Making the virtual environment .venv with $("$python" --version)"
    "$python" -m venv --clear .venv || {
        rm -rf .venv
        refuse "$python cannot make a virtual environment; on Debian and Ubuntu install the package python3-venv"
    }
}

# What runs is pinned in the lock that the container image uses too; tests/run.sh adds what tests need.
# The stamp is the lock itself: a changed lock, or a half-finished installation, installs again.
lock=deploy/containers/requirements.lock
stamp=.venv/installed.lock
if ! [ -x .venv/bin/python ] || ! recent_enough .venv/bin/python; then
    make_environment
fi
if ! cmp -s "$lock" "$stamp"; then
    say "Installing the locked dependencies (once; a minute or two)"
    .venv/bin/python -m pip install --disable-pip-version-check --no-input --require-hashes -r "$lock" ||
        refuse "the dependencies could not be installed; pip says why above. Nothing is half done: the next start tries again"
    say "Installing Heelmark itself"
    .venv/bin/python -m pip install --disable-pip-version-check --no-input --quiet --no-deps --editable . ||
        refuse "Heelmark itself could not be installed; pip says why above"
    cp "$lock" "$stamp"
fi

exec .venv/bin/python -m deploy.up "$@"
