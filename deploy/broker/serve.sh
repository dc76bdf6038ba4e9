# Mosquitto in a container of its own, told to read its users again whenever `heelmark broker-files` has changed them.
set -eu
mosquitto -c /mosquitto/config/mosquitto.conf &
broker=$!
trap 'kill -TERM "$broker"' TERM INT
seen=$(cksum /mosquitto/credentials/*)
while kill -0 "$broker" 2>/dev/null; do
    now=$(cksum /mosquitto/credentials/*)
    if [ "$now" != "$seen" ]; then
        kill -HUP "$broker"
        seen=$now
    fi
    sleep 1 &
    wait $! || true
done
wait "$broker"
