"""Field data without names: settled readings, instrument classes, and what cylinders turned out to hold."""

import random
from collections.abc import Iterable
from typing import TypeVar

from service.operations.support import beliefs, calendar
from service.operations.support.context import Actor, Services
from service.paperwork import field_package
from service.paperwork.field_package import FieldContents, FieldData, FieldPair, FieldPart, FieldTruth
from service.store import analyses, cylinders, field_data
from service.store.analyses import Analysis
from service.store.cylinders import Cylinder, Epoch
from service.store.pairs import StoredPair
from service.store.work import Work

K = TypeVar("K")
Key = tuple[int, int]
"""A cylinder's id and the number of its epoch: one filling."""


def package(services: Services, actor: Actor) -> dict[str, str]:
    """The files of a data package with everything that was measured and established, by name."""
    with services.database.reading(actor.organisation_id) as work:
        data = collect(work, random.Random(services.new_secret()))  # noqa: S311 - an order, not a secret
        made_on = calendar.today(services, work)
    return field_package.files(data, made_on)


def collect(work: Work, order: random.Random) -> FieldData:
    """
    Everything that may leave.

    Parameters
    ----------
    work
        Open.
    order
        Numbers contents and instruments, so that no number tells when a cylinder or a device came.
    """
    pairs = field_data.settled(work)
    read = {(one.cylinder_id, one.epoch) for one in pairs}
    results = [one for one in analyses.everything(work) if (one.cylinder_id, one.epoch) in read]
    known = {one.id: one for one in cylinders.everything(work)}
    epochs = field_data.epochs_of_all(work)
    contents = _numbered(read, order)
    thermometers = _numbered({one.temperature_device for one in pairs} - {None}, order)
    gauges = _numbered({one.pressure_device for one in pairs} - {None}, order)
    truths = list(enumerate(sorted(results, key=lambda one: contents[one.cylinder_id, one.epoch]), start=1))
    return FieldData(
        contents=[
            FieldContents(number, _label(known[key[0]], epochs[key[0]][key[1]]))
            for key, number in sorted(contents.items(), key=lambda item: item[1])
        ],
        pairs=sorted(
            (_pair(work, one, contents, thermometers, gauges) for one in pairs),
            key=lambda one: (one.contents, one.day, one.temp_k),
        ),
        truths=[_truth(work, number, one, contents) for number, one in truths],
        compositions=[
            FieldPart(number, name, share)
            for number, one in truths
            for name, share in (one.mass_fractions or {}).items()
        ],
    )


def _numbered(keys: Iterable[K], order: random.Random) -> dict[K, int]:
    shuffled = sorted(keys, key=str)
    order.shuffle(shuffled)
    return {key: number for number, key in enumerate(shuffled, start=1)}


def _label(cylinder: Cylinder, epoch: Epoch) -> str | None:
    """What the label said before anything was measured; none where it was changed."""
    claims = beliefs.kept(cylinder, epoch).claims
    return claims[0] if len(claims) == 1 else None


def _pair(
    work: Work,
    one: StoredPair,
    contents: dict[Key, int],
    thermometers: dict[str | None, int],
    gauges: dict[str | None, int],
) -> FieldPair:
    return FieldPair(
        contents=contents[one.cylinder_id, one.epoch],
        day=calendar.local_date(work, one.settled_at),
        temp_k=one.temp_k,
        pressure_pa=one.pressure_pa,
        temp_noise_k=one.temp_noise_k,
        pressure_noise_pa=one.pressure_noise_pa,
        temp_bias_k=one.temp_bias_k,
        pressure_bias_pa=one.pressure_bias_pa,
        atmosphere_bias_pa=one.atmosphere_bias_pa,
        thermometer=thermometers.get(one.temperature_device),
        gauge=gauges.get(one.pressure_device),
    )


def _truth(work: Work, number: int, one: Analysis, contents: dict[Key, int]) -> FieldTruth:
    return FieldTruth(
        truth=number,
        contents=contents[one.cylinder_id, one.epoch],
        day=calendar.local_date(work, one.sampled_at),
        kind=one.kind,
        designation=one.designation,
        state=one.state,
        mass_fraction_uncertainty=one.mass_fraction_uncertainty,
        non_condensables_percent=one.non_condensables_percent,
        moisture_ppm=one.moisture_ppm,
        acid_ppm=one.acid_ppm,
        oil_percent=one.oil_percent,
    )
