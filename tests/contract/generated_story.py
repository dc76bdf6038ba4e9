"""The main job through a client that was generated from the document; run where only that client is installed."""

import sys

from heelmark_client import AuthenticatedClient
from heelmark_client.api.cylinders import get_cylinders_by_serial, post_cylinders
from heelmark_client.api.hookups import post_hookups
from heelmark_client.api.pairs import post_equilibrium_pairs
from heelmark_client.api.verdicts import get_cylinders_by_serial_verdict, post_verdicts
from heelmark_client.models import Evidence, NewCylinder, NewHookup, NewPair, Problem, VerdictRequest

url, token = sys.argv[1:]
client = AuthenticatedClient(base_url=url, token=token, raise_on_unexpected_status=True)

made = post_cylinders.sync(client=client, body=NewCylinder(serial="HM-1", place="shop", tare_lb=27.4))
assert made.serial == "HM-1", made
again = post_cylinders.sync(client=client, body=NewCylinder(serial="HM-1"))
assert isinstance(again, Problem), again
assert again.status == 409

hookup = post_hookups.sync(client=client, body=NewHookup(cylinder="HM-1", pressure_device="probe-1"))
pair = NewPair(hookup=hookup.id, temperature_f=68.0, gauge_pressure_psi=117.3)
first = post_equilibrium_pairs.sync(client=client, body=pair, idempotency_key="k")
second = post_equilibrium_pairs.sync(client=client, body=pair, idempotency_key="k")
assert first == second
assert first.pair.atmospheric_pressure_source == "elevation"

verdict = get_cylinders_by_serial_verdict.sync("HM-1", client=client)
assert verdict.identity.candidates[0].designation == "R-22", verdict
assert get_cylinders_by_serial.sync("HM-1", client=client).epoch == 1

asked = VerdictRequest(pairs=[Evidence(temperature_c=24.8, absolute_pressure_kpa=1044.0)])
assert post_verdicts.sync(client=client, body=asked).model_version == "scripted"
print("done")
