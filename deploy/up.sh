#!/bin/sh
# Sets Heelmark up in this checkout and runs the whole job on embedded defaults.
#
#   sh deploy/up.sh           everything a shop needs: database, broker, service, worker
#   sh deploy/up.sh --lan     and HTTPS for the phones of the own network
#   sh deploy/up.sh --install the same, from now on with every start of the machine (systemd)
#   sh deploy/up.sh --demo    and simulated cylinders, so that verdicts appear by themselves
#
# HEELMARK_PYTHON names the Python to use; the other settings are in service/handbook/settings.md.
set -eu
cd "$(dirname -- "$0")/.."
. deploy/environment.sh

# The container image's packages and the demo's (pyproject.toml); tests/run.sh adds what tests need.
install deploy/requirements.lock installed.lock
exec .venv/bin/python -m deploy.up "$@"
