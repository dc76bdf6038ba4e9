#!/bin/sh
# Sets everything up and runs every gate, then the tests. Arguments go to pytest: sh tests/run.sh tests/verdict
#
# What needs a server that is not there is installed where that is possible (root and apt-get), and otherwise
# skipped by name with the reason in pytest's summary.
set -eu
cd "$(dirname -- "$0")/.."
. deploy/environment.sh

install requirements.lock installed-tests.lock
# Debian keeps a broker and a database server where a path seldom looks.
PATH="$PWD/.venv/bin:$PATH:/usr/sbin$(printf ':%s' /usr/lib/postgresql/*/bin)"
export PATH

has() { command -v "$1" >/dev/null 2>&1; }

provide() { # provide COMMAND PACKAGE...
    if has "$1"; then return; fi
    wanted=$1
    shift
    if [ "$(id -u)" = 0 ] && has apt-get; then
        say "Installing $* (for $wanted)"
        { [ -n "${apt_updated:-}" ] || apt-get update -qq; } && apt_updated=yes &&
            DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null && return
    fi
    say "No $wanted here and it could not be installed: the tests that need it are skipped by name"
}

failed=
gate() { # gate NAME COMMAND...
    name=$1
    shift
    if told=$("$@" 2>&1); then
        say "gate  $name: ok"
    else
        failed="$failed $name"
        say "gate  $name: FAILED"
        printf '%s\n' "$told" | tail -n 60 | sed 's/^/      /'
    fi
}

provide mosquitto mosquitto mosquitto-clients
provide chromium chromium
provide initdb postgresql postgresql-client
provide cc gcc libc6-dev
provide nginx nginx-light
provide promtool prometheus
provide nats-server nats-server

gate lint ruff check service ingest demo deploy tests
gate format ruff format --check service ingest demo deploy tests
gate types mypy
gate layers lint-imports
gate dependencies deptry .
gate "known vulnerabilities" python -m tests.audit
gate "wheels for 64-bit ARM" python -m tests.wheels

[ -z "$failed" ] || say "Gates that failed:$failed; the tests run all the same"
status=0
python -m pytest "$@" || status=$?
[ -z "$failed" ] || [ "$status" -ne 0 ] || status=1
exit "$status"
