"""
``python -m tests.benchmarks.webhooks``: how long 2,000 events take to a receiver 100 ms away.

Target: under a minute in batched mode. Opening a connection and each answer wait for the round trip; TLS would open
with two more. In binary and structured mode each event waits for the answer to the one before, so that it takes
at least the round trip an event: 200 s. Writes ``out/webhooks.json``.
"""

import argparse
import json
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from service.operations import webhooks
from service.operations.deliveries import Deliverer
from service.operations.webhooks import NewWebhook
from service.outbound.addresses import AddressPolicy
from service.outbound.cloudevents import ContentMode
from service.outbound.sender import Sender
from tests.benchmarks.output import output
from tests.support.delivery import delivery_world
from tests.support.far_receiver import far_receiver


def main() -> None:
    """Measure and write down."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--events", type=int, default=2000)
    parser.add_argument("--round-trip-s", type=float, default=0.1)
    parser.add_argument("--mode", choices=list(ContentMode), default=ContentMode.BATCHED)
    asked = parser.parse_args()
    found = measured(asked.events, asked.round_trip_s, ContentMode(asked.mode))
    output("webhooks.json").write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(found, indent=1))


def measured(count: int, round_trip_s: float, mode: ContentMode) -> dict[str, object]:
    """Deliver ``count`` events over a line with this round trip [s], and say how it went."""
    with tempfile.TemporaryDirectory() as folder, delivery_world(Path(folder)) as world:
        sender = Sender(AddressPolicy(frozenset({"127.0.0.1"})))
        services = replace(world.services, post=replace(world.services.post, sender=sender))
        deliverer = Deliverer(services, "one", lambda: 0.5)
        with far_receiver(round_trip_s) as heard:
            webhooks.subscribe(services, world.actor, NewWebhook(heard.url, mode=mode))
            happened = world.happen(count)
            began = time.monotonic()
            while len(heard.sequences) < count:
                with ThreadPoolExecutor(1) as pool:
                    deliverer.round(pool)
            took_s = time.monotonic() - began
    return {
        "mode": mode.value,
        "events": count,
        "round_trip_s": round_trip_s,
        "seconds": round(took_s, 2),
        "messages": heard.messages,
        "connections": heard.connections,
        "in_order_and_once": heard.sequences == happened,
    }


if __name__ == "__main__":
    main()
