"""A week of a simulated shop with two gauges and two clamps, one clamp off: what was read, said and condemned."""

from dataclasses import dataclass, field
from datetime import timedelta
from math import exp

import numpy as np

from service.codes import AlarmCode
from service.operations import alarms, cylinders, hookups, instruments, pairs, rejudgements, verdicts
from service.operations.hookups import NewHookup
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from service.verdict.evidence import REFERENCE_SLOPE_PER_K
from service.verdict.instruments.belief import TYPICAL_PA
from tests.support.clock import Clock

GAUGES = ("urn:dev:ops:32473-gauge-1", "urn:dev:ops:32473-gauge-2")
CLAMPS = ("urn:dev:ops:32473-clamp-1", "urn:dev:ops:32473-clamp-2")
WRONG, OFF_K = CLAMPS[1], 1.2
TEMP_K, ZERO_PA, GAIN = 0.3, 2e3, 0.003
"""Class of the instruments, standard uncertainties: the true errors of the three good ones are drawn from it."""
NOISE_K, NOISE_PA = 0.05, 300.0
DAYS, A_DAY = 7, 6
CONTENTS = ("R-22", "R-410A", "R-134a", "R-404A", "R-407C")
SHARES = (0.3, 0.35, 0.2, 0.1, 0.05)
LABELLED = 0.7
CONDEMNED = ("air", "shifted", "mixed")


@dataclass
class Week:
    """What came of it: every cylinder holds one refrigerant alone."""

    read: list[tuple[str, str, str]] = field(default_factory=list)
    named_on_day: float | None = None
    alarms: list[str] = field(default_factory=list)
    believed_k: dict[tuple[str, str], tuple[float, float]] = field(default_factory=dict)
    true_k: dict[tuple[str, str], float] = field(default_factory=dict)
    condemned_at_first: list[str] = field(default_factory=list)
    condemned_at_the_end: list[str] = field(default_factory=list)
    destroyed: list[str] = field(default_factory=list)
    corrected: int = 0


@dataclass(frozen=True)
class Shop:
    """What a shop has, and how far its instruments are off: clamps [K], gauges by zero [Pa] and gain [-]."""

    services: Services
    actor: Actor
    clock: Clock
    rng: np.random.Generator
    clamps: dict[str, float]
    gauges: dict[str, tuple[float, float]]


def run(
    services: Services, actor: Actor, clock: Clock, rng: np.random.Generator, off_k: float = OFF_K
) -> Week:
    """Read six cylinders a day, each with some gauge and some clamp, and let the watch do its rounds."""
    week, begun = Week(), services.now()
    clamps = {CLAMPS[0]: float(rng.normal(0, TEMP_K)), WRONG: off_k}
    gauges = {name: (float(rng.normal(0, ZERO_PA)), float(rng.normal(0, GAIN))) for name in GAUGES}
    shop = Shop(services, actor, clock, rng, clamps, gauges)
    week.true_k = {
        (clamp, gauge): clamps[clamp] - (gain + zero / TYPICAL_PA) / REFERENCE_SLOPE_PER_K
        for clamp in CLAMPS
        for gauge, (zero, gain) in gauges.items()
    }
    for number in range(DAYS * A_DAY):
        clock.forward(hours=24 / A_DAY)
        _read_one(shop, f"WK-{number}", week)
        rejudgements.review_all(services)
        if week.named_on_day is None and _standing(services, actor):
            week.named_on_day = (services.now() - begun) / timedelta(days=1)
    _at_the_end(services, actor, week)
    return week


def _read_one(shop: Shop, serial: str, week: Week) -> None:
    """One cylinder of one refrigerant alone, hooked up, read and let go."""
    services, actor, rng = shop.services, shop.actor, shop.rng
    name, gauge, clamp = str(rng.choice(CONTENTS, p=SHARES)), str(rng.choice(GAUGES)), str(rng.choice(CLAMPS))
    label = name if rng.random() < LABELLED else None
    cylinders.register(services, actor, serial, {"place": "shop", "claimed_designation": label})
    hookup = hookups.attach(services, actor, NewHookup(serial, gauge, clamp))
    temp_k, shown_pa = _shown(shop, name, gauge)
    found = pairs.record(
        services,
        actor,
        NewPair(
            hookup_id=hookup.id,
            temp_k=temp_k + shop.clamps[clamp] + NOISE_K * float(rng.standard_normal()),
            pressure=PressureReading(absolute_pa=shown_pa),
            temp_noise_k=NOISE_K,
            pressure_noise_pa=NOISE_PA,
            temp_bias_k=TEMP_K,
            pressure_bias_pa=ZERO_PA,
        ),
    )
    hookups.detach(services, actor, hookup.id)
    week.read.append((serial, name, clamp))
    assert found.verdict is not None
    if found.verdict.contamination_finding in CONDEMNED:
        week.condemned_at_first.append(serial)
    week.corrected += any("corrected for" in line for line in found.verdict.found.reasons)


def _shown(shop: Shop, name: str, gauge: str) -> tuple[float, float]:
    """True temperature [K], and what a gauge shows [Pa] of a cylinder whose curve is off by its own uncertainty."""
    services, rng = shop.services, shop.rng
    temp_k, own = float(rng.uniform(288, 303)), services.catalogue[name].relative_uncertainty
    true_pa = float(services.curves.bubble_pressure_pa(name, temp_k)) * exp(own * rng.standard_normal())
    zero, gain = shop.gauges[gauge]
    return temp_k, true_pa * (1 + gain) + zero + NOISE_PA * float(rng.standard_normal())


def _standing(services: Services, actor: Actor) -> list[str]:
    page = alarms.listed(services, actor, PageRequest(50), open_only=True, code=AlarmCode.INSTRUMENT_IN_DOUBT)
    return [alarm.text for alarm in page.items]


def _at_the_end(services: Services, actor: Actor, week: Week) -> None:
    week.alarms = _standing(services, actor)
    for clamp in CLAMPS:
        for one in instruments.read(services, actor, clamp).sets:
            week.believed_k[one.row.thermometer, one.row.gauge] = (one.row.combined_k, one.row.uncertainty_k)
    for serial, _, _ in week.read:
        verdict = verdicts.newest(services, actor, serial)
        if verdict.contamination_finding in CONDEMNED:
            week.condemned_at_the_end.append(serial)
        if verdict.disposition_code == "send-for-destruction":
            week.destroyed.append(serial)
