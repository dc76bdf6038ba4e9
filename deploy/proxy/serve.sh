# Runs nginx in a container, and reloads it when the service's address or the certificate changes. nginx reads both only
# when it starts or reloads, and a service that was upgraded or restored may have a new address.
set -eu
nginx -c /etc/nginx/nginx.conf -g 'daemon off;' &
proxy=$!
trap 'kill -QUIT "$proxy"' TERM INT QUIT
address() { getent hosts service | cut -d' ' -f1; }
certificate() { cksum /etc/heelmark/tls/tls.crt /etc/heelmark/tls/tls.key; }
address=$(address) certificate=$(certificate)
while kill -0 "$proxy" 2>/dev/null; do
    # A service that is away has no address, and a file that is being written no sum: what was known is as good as any.
    now=$(address) && [ -n "$now" ] || now=$address
    found=$(certificate) || found=$certificate
    if [ "$now $found" != "$address $certificate" ]; then
        kill -HUP "$proxy"
        address=$now certificate=$found
    fi
    sleep 1 &
    wait $! || true
done
wait "$proxy"
