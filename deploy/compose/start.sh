#!/bin/sh
# From nothing to a running installation, and from one version to the next: makes what is missing, builds the image,
# brings the schema up to this version, starts everything.
#
#   HEELMARK_HOST=heelmark.example HEELMARK_TIME_ZONE=America/Denver sh deploy/compose/start.sh
#
# COMPOSE names the program: `docker compose` unless set, or `podman-compose`; its options may follow.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
sh "$here/prepare.sh"
cd "$here"
: "${COMPOSE:=docker compose}"

$COMPOSE --profile setup build migrate
$COMPOSE up -d database
$COMPOSE --profile setup run --rm -T migrate
$COMPOSE up -d service

tries=0
until $COMPOSE exec -T service heelmark probe 'http://127.0.0.1:8642/readyz?part=serving' >/dev/null 2>&1; do
    tries=$((tries + 1))
    if [ "$tries" -ge 60 ]; then
        echo "The service does not become ready; \`$COMPOSE logs service\` says why." >&2
        exit 1
    fi
    sleep 2
done

# Made the first time only: the passwords are shown this once.
$COMPOSE exec -T service heelmark first-run --time-zone "$(sed -n 's/^HEELMARK_TIME_ZONE=//p' .env)"
if ! [ -s secrets/worker-token ]; then
    token=$($COMPOSE exec -T service heelmark token create worker --scope worker)
    printf '%s' "$token" > secrets/worker-token
fi

$COMPOSE --profile setup run --rm -T credentials-seed
$COMPOSE up -d
echo "Running at https://$(sed -n 's/^HEELMARK_HOST=//p' .env). Browsers and gateways have to trust $here/tls/ca.crt."
