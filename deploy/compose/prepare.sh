#!/bin/sh
# Makes .env, the secrets and a private certificate authority for a first start; nothing that exists is overwritten.
# HEELMARK_HOST names the host as browsers and gateways reach it, HEELMARK_ALSO a further name for its certificate.
#
# For a certificate of your own put it, its key and its authority into tls/ as tls.crt, tls.key and ca.crt: browsers,
# gateways and the worker alike reach proxy and broker under that one name.
set -eu
cd "$(dirname "$0")"
[ ! -s .env ] || HEELMARK_HOST=$(sed -n 's/^HEELMARK_HOST=//p' .env)
: "${HEELMARK_HOST:?set it to the name that browsers and gateways use}"
umask 077
mkdir -p secrets tls

random() { openssl rand -hex "$1"; }
once() { [ -s "$1" ] || { printf '%s' "$2" > "$1.new" && mv "$1.new" "$1"; }; }

# The worker's user at the broker has a name that cannot be guessed: see operations, sessions at the broker.
once .env "HEELMARK_HOST=$HEELMARK_HOST
HEELMARK_MQTT_USER=worker-$(random 8)
HEELMARK_TIME_ZONE=${HEELMARK_TIME_ZONE:-UTC}
"
once secrets/database-password "$(random 32)"
once secrets/database-url "postgresql://heelmark:$(cat secrets/database-password)@database/heelmark"
once secrets/secret-key "$(random 48)"
once secrets/mqtt-password "$(random 32)"
# start.sh fills it once there is a database.
[ -e secrets/worker-token ] || : > secrets/worker-token

if [ ! -s tls/ca.crt ]; then
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 3650 \
        -subj "/CN=Heelmark site authority" -keyout tls/ca.key -out tls/ca.crt 2>/dev/null
fi
if [ ! -s tls/tls.crt ]; then
    printf 'subjectAltName=DNS:%s,DNS:localhost%s\nextendedKeyUsage=serverAuth\n' \
        "$HEELMARK_HOST" "${HEELMARK_ALSO:+,DNS:$HEELMARK_ALSO}" > tls/extensions
    openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -subj "/CN=$HEELMARK_HOST" \
        -keyout tls/tls.key -out tls/request 2>/dev/null
    openssl x509 -req -in tls/request -CA tls/ca.crt -CAkey tls/ca.key -CAcreateserial -days 825 \
        -extfile tls/extensions -out tls/tls.crt 2>/dev/null
    rm tls/request tls/extensions
fi
# Containers read them under their own users; the folders stay closed to everybody else on the host.
chmod 0644 secrets/* tls/tls.crt tls/ca.crt tls/tls.key
chmod 0711 secrets tls
echo "Settings are in $(pwd)/.env, secrets and certificates in $(pwd)/secrets and $(pwd)/tls."
