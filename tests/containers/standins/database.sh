# The first start makes the cluster, its user and its database; every start serves.
set -eu
if ! [ -s "$PGDATA/PG_VERSION" ]; then
    # shellcheck disable=SC2086
    initdb --username="$POSTGRES_USER" --pwfile="$POSTGRES_PASSWORD_FILE" $POSTGRES_INITDB_ARGS >/dev/null
    printf 'host all all all scram-sha-256\n' >> "$PGDATA/pg_hba.conf"
    PGPASSWORD=$(cat "$POSTGRES_PASSWORD_FILE")
    export PGPASSWORD
    pg_ctl --wait --silent -o '-c listen_addresses= -c unix_socket_directories=/tmp' start
    createdb --username="$POSTGRES_USER" "$POSTGRES_DB"
    pg_ctl --wait --silent --mode=fast stop
fi
exec postgres -c 'listen_addresses=*' -c unix_socket_directories=/tmp
