# Sourced by deploy/up.sh and tests/run.sh: a Python, a virtual environment, a locked set of packages.

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
    python=$(find_python) || refuse "it needs Python 3.11 or newer, and found none" \
        "(looked for ${HEELMARK_PYTHON:-python3, python3.11 to python3.14 and python on the path})." \
        "Install one, or name it: HEELMARK_PYTHON=/path/to/python3 sh $0"
    say "Making the virtual environment .venv with $("$python" --version)"
    "$python" -m venv --clear .venv || {
        rm -rf .venv
        refuse "$python cannot make a virtual environment; on Debian and Ubuntu install the package python3-venv"
    }
}

# install LOCK STAMP: the stamp is a copy of the lock, so that a changed lock, or an installation that was cut
# short, installs again.
install() {
    if ! [ -x .venv/bin/python ] || ! recent_enough .venv/bin/python; then
        make_environment
    fi
    if ! cmp -s "$1" ".venv/$2"; then
        say "Installing what $1 pins (once; a minute or two)"
        .venv/bin/python -m pip install --disable-pip-version-check --no-input --quiet --require-hashes -r "$1" ||
            refuse "the dependencies could not be installed; pip says why above. The next start tries again"
        say "Installing Heelmark itself"
        .venv/bin/python -m pip install --disable-pip-version-check --no-input --quiet --no-deps --editable . ||
            refuse "Heelmark itself could not be installed; pip says why above"
        cp "$1" ".venv/$2"
    fi
}
