#!/bin/sh
# Sets everything up and runs every gate, then the tests. Arguments go to pytest: sh tests/run.sh tests/verdict
#
# What needs a server that is not there is installed where that is possible (root and apt-get), and otherwise
# skipped by name with the reason in pytest's summary.
set -eu
cd "$(dirname -- "$0")/.."
. deploy/environment.sh

install requirements.lock installed-tests.lock
PATH="$PWD/.venv/bin:$PATH:/usr/sbin"
export PATH

has() { command -v "$1" >/dev/null 2>&1; }

provide() { # provide COMMAND PACKAGE...
    if has "$1" || { [ "$1" = initdb ] && postgres_folder >/dev/null; }; then return; fi
    wanted=$1
    shift
    if [ "$(id -u)" = 0 ] && has apt-get; then
        say "Installing $* (for $wanted)"
        { [ -n "${apt_updated:-}" ] || apt-get update -qq; } && apt_updated=yes &&
            DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null && return
    fi
    say "No $wanted here and it could not be installed: the tests that need it are skipped by name"
}

postgres_folder() {
    for folder in "$(command -v initdb 2>/dev/null | xargs -r dirname)" /usr/lib/postgresql/*/bin; do
        if [ -x "$folder/initdb" ] && [ -x "$folder/pg_ctl" ]; then
            printf '%s\n' "$folder"
            return
        fi
    done
    return 1
}

# A throwaway cluster on a socket and a free port of its own; PostgreSQL refuses to run as root.
start_postgres() {
    folder=$(postgres_folder) || return 0
    cluster=$(mktemp -d)
    as_user=
    if [ "$(id -u)" = 0 ]; then
        getent passwd postgres >/dev/null || return 0
        chown postgres "$cluster"
        as_user="setpriv --reuid postgres --regid postgres --init-groups --"
    fi
    port=$(python -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
    (
        cd "$cluster"
        $as_user "$folder/initdb" -D "$cluster/data" -U heelmark -A trust -E UTF8 --no-locale --no-sync >initdb.log &&
            $as_user "$folder/pg_ctl" -D "$cluster/data" -l "$cluster/log" -w -o \
                "-c listen_addresses=127.0.0.1 -p $port -k $cluster -c fsync=off -c max_connections=200" start >/dev/null
    ) || {
        say "PostgreSQL did not start: $(tail -n 3 "$cluster/log" 2>/dev/null)"
        return 0
    }
    HEELMARK_TEST_POSTGRES_URL="postgresql+psycopg://heelmark@127.0.0.1:$port/postgres"
    export HEELMARK_TEST_POSTGRES_URL
    say "PostgreSQL for the tests is on port $port"
}

stop_postgres() {
    [ -z "${cluster:-}" ] && return
    if [ -f "$cluster/data/postmaster.pid" ]; then
        (cd "$cluster" && $as_user "$folder/pg_ctl" -D "$cluster/data" -m immediate stop >/dev/null 2>&1) || true
    fi
    rm -rf "$cluster"
}
trap stop_postgres EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

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

gate lint ruff check service ingest demo deploy tests
gate format ruff format --check service ingest demo deploy tests
gate types mypy
gate layers lint-imports
gate docstrings pydoclint --quiet service ingest demo deploy
gate dependencies deptry .

[ -n "${HEELMARK_TEST_POSTGRES_URL:-}" ] || start_postgres
status=0
python -m pytest "$@" || status=$?
if [ -n "$failed" ]; then
    say "Gates that failed:$failed" >&2
    [ "$status" -ne 0 ] || status=1
fi
exit "$status"
