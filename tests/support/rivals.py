"""A technician in a process of his own who fills a cylinder at a set second: ``python -m tests.support.rivals``.

Arguments: database URL, organisation, serial, mass in kilograms, the moment to begin (Unix seconds). Prints
``filled`` or the codes of the rules that refused.
"""

import sys
import time
from pathlib import Path

from service.operations.support.context import Actor
from service.operations.support.errors import Conflict
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.support.clock import Clock
from tests.support.fleet import put_in
from tests.support.judge import ScriptedJudge


def main(url: str, organisation: str, serial: str, mass_kg: str, begin_at: str) -> None:
    """Wait for the moment, then try."""
    settings = Settings(data=Path.cwd(), database_url=url, secret_key="s" * 40)
    services = wire(settings, database=Database(url), judge=ScriptedJudge(), now=Clock())
    actor = Actor(int(organisation), "token:rival", "technician")
    with services.database.reading(actor.organisation_id):
        pass
    time.sleep(max(0.0, float(begin_at) - time.time()))
    try:
        put_in(services, actor, float(mass_kg), serial=serial)
    except Conflict as refused:
        print(" ".join(reason.code for reason in refused.reasons))
    else:
        print("filled")


if __name__ == "__main__":
    main(*sys.argv[1:])
