"""Use cases for equilibrium pairs: one transaction takes the pair, the verdict, the alarms and the events."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from service.cylinders.judgement.advice import Advice
from service.measures import PAIRS
from service.operations import hookups, lessons, verdicts
from service.operations.support import calendar, contents, emptying
from service.operations.support.attention import review
from service.operations.support.context import Actor, Instruments, Services, tell
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.events import PAIR_RECORDED
from service.operations.support.lookup import by_serial
from service.operations.support.readings import BelowVacuum, Reading, Settled, settled
from service.store import cylinders as stored_cylinders
from service.store import pairs, places
from service.store.cylinders import Cylinder
from service.store.hookups import Hookup
from service.store.paging import Page, PageRequest
from service.store.pairs import AcceptedPair, StoredPair
from service.store.verdicts import StoredVerdict
from service.store.work import Work
from service.units import kpa_from_pa


@dataclass(frozen=True, slots=True)
class NewPair(Reading):
    """
    A temperature and a pressure of one settled state, as posted.

    Parameters
    ----------
    hookup_id, serial
        Exactly one of them says which cylinder.
    settled_at, from_at, to_at
        The state's time and span; now when not stated.
    provisional
        Not yet settled: kept and shown, never evidence.
    reasons
        What the worker could not be sure of.
    mass_kg
        Gross, from a scale under the cylinder [kg].
    ambient_temp_k
        [K].
    """

    hookup_id: int | None = None
    serial: str | None = None
    settled_at: datetime | None = None
    from_at: datetime | None = None
    to_at: datetime | None = None
    provisional: bool = False
    reasons: Sequence[str] = ()
    mass_kg: float | None = None
    ambient_temp_k: float | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """The pair as stored, its cylinder, the verdict on its epoch if any pair speaks, and what to do now."""

    pair: StoredPair
    serial: str
    verdict: StoredVerdict | None
    advice: Advice | None = None


def record(services: Services, actor: Actor, new: NewPair) -> Recorded:
    """
    Take a pair and judge the cylinder again.

    Raises
    ------
    NotFound
        When the hookup or the cylinder is unknown.
    Invalid
        When the pair lies in the future, or no verdict can be built on it.
    """
    with services.database.writing(actor.organisation_id) as work:
        hookup, cylinder = _where(work, new)
        at = services.now()
        settled_at = calendar.moment("settled_at", new.settled_at, at)
        of_place = hookup.elevation_m if hookup else _elevation_of(work, cylinder)
        epoch = stored_cylinders.epoch_at(work, cylinder, settled_at)
        found = _settled(services, new, hookup, of_place)
        pair = pairs.insert(
            work,
            _accepted(
                new,
                found,
                hookup,
                cylinder,
                epoch=epoch.number,
                settled_at=settled_at,
                actor=actor,
                received_at=at,
            ),
        )
        tell(work, actor, at, PAIR_RECORDED, f"cylinders/{cylinder.serial}", _told(cylinder, pair))
        PAIRS.labels("provisional" if pair.provisional else "settled").inc()
        cylinder = _weigh(work, cylinder, pair)
        # A weighing may have changed what the epoch keeps.
        emptying.found_pressure(work, cylinder, pair, epoch if pair.mass_kg is None else None)
        # Before the verdict, which is less sure where the pair disagrees with what was believed of its instruments.
        lessons.teach(services, work, actor, cylinder, pair)
        verdict = _verdict(services, work, at, cylinder, pair)
        (judged,) = review(services, work, actor, at, [cylinder.id])
        if not pair.provisional:
            verdicts.announce(work, actor, at, judged, verdict)
        present = verdict is not None and verdict.epoch == cylinder.epoch
        return Recorded(pair, cylinder.serial, verdict, judged.judgement.advice if present else None)


def listed(
    services: Services,
    actor: Actor,
    serial: str,
    request: PageRequest,
    *,
    epoch: int | None,
    provisional: bool | None,
) -> Page[StoredPair]:
    """A cylinder's pairs, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        cylinder = by_serial(work, serial)
        return pairs.page(work, request, cylinder.id, epoch=epoch, provisional=provisional)


def _where(work: Work, new: NewPair) -> tuple[Hookup | None, Cylinder]:
    if new.hookup_id is not None:
        hookup = hookups.by_id(work, new.hookup_id)
        return hookup, by_serial(work, hookup.cylinder, lock=True)
    if new.serial is None:
        raise Invalid(FieldError("cylinder", None, "a hookup or a cylinder"))
    return None, by_serial(work, new.serial, lock=True)


def _elevation_of(work: Work, cylinder: Cylinder) -> float | None:
    place = None if cylinder.place is None else places.by_name(work, cylinder.place)
    return place.elevation_m if place else None


def _settled(services: Services, new: NewPair, hookup: Hookup | None, of_place: float | None) -> Settled:
    try:
        return settled(
            new,
            _instruments(services.policy.instruments, hookup),
            services.policy.elevation_m(of_place),
            temperature_device=hookup.temperature_device if hookup else None,
            pressure_device=hookup.pressure_device if hookup else None,
            watched=hookup is not None,
        )
    except BelowVacuum as error:
        expected = "an absolute pressure above zero [kPa]"
        raise Invalid(FieldError("pressure", kpa_from_pa(error.pressure_pa), expected)) from error


def _accepted(
    new: NewPair,
    found: Settled,
    hookup: Hookup | None,
    cylinder: Cylinder,
    *,
    epoch: int,
    settled_at: datetime,
    actor: Actor,
    received_at: datetime,
) -> AcceptedPair:
    pair, atmosphere = found.pair, found.atmosphere
    return AcceptedPair(
        cylinder_id=cylinder.id,
        epoch=epoch,
        hookup_id=hookup.id if hookup else None,
        temp_k=pair.temp_k,
        pressure_pa=pair.pressure_pa,
        temp_noise_k=pair.temp_noise_k,
        pressure_noise_pa=pair.pressure_noise_pa,
        temp_bias_k=pair.temp_bias_k,
        pressure_bias_pa=pair.pressure_bias_pa,
        atmosphere_pa=atmosphere.pressure_pa if atmosphere else None,
        atmosphere_bias_pa=pair.atmosphere_bias_pa,
        atmosphere_source=atmosphere.source if atmosphere else "absolute",
        pressure_device=pair.pressure_device,
        temperature_device=pair.temperature_device,
        settled_at=settled_at,
        from_at=new.from_at,
        to_at=new.to_at,
        provisional=new.provisional,
        reasons=list(new.reasons),
        mass_kg=new.mass_kg,
        ambient_temp_k=new.ambient_temp_k,
        recorded_by=actor.name,
        received_at=received_at,
    )


def _instruments(usual: Instruments, hookup: Hookup | None) -> Instruments:
    if hookup is None:
        return usual
    return replace(
        usual,
        temperature_bias_k=_or(hookup.temperature_bias_k, usual.temperature_bias_k),
        pressure_bias_pa=_or(hookup.pressure_bias_pa, usual.pressure_bias_pa),
    )


def _or(stated: float | None, usual: float) -> float:
    return usual if stated is None else stated


def _weigh(work: Work, cylinder: Cylinder, pair: StoredPair) -> Cylinder:
    """Keep a newer weighing; a scale that shows less than the tare has lost the cylinder and says nothing."""
    if pair.mass_kg is None or (
        cylinder.gross_mass_at is not None and pair.settled_at <= cylinder.gross_mass_at
    ):
        return cylinder
    if cylinder.tare_kg is not None and pair.mass_kg < cylinder.tare_kg:
        return cylinder
    contents.keep_baseline(work, cylinder)
    stored_cylinders.change(
        work, cylinder, at=pair.received_at, gross_mass_kg=pair.mass_kg, gross_mass_at=pair.settled_at
    )
    return by_serial(work, cylinder.serial)


def _verdict(
    services: Services, work: Work, at: datetime, cylinder: Cylinder, pair: StoredPair
) -> StoredVerdict | None:
    if pair.provisional:
        return verdicts.current(work, cylinder)
    return verdicts.reach(services, work, at, cylinder, pair.epoch, pair.id)


def _told(cylinder: Cylinder, pair: StoredPair) -> dict[str, Any]:
    return {
        "cylinder": cylinder.serial,
        "pair": pair.id,
        "hookup": pair.hookup_id,
        "temp_k": pair.temp_k,
        "pressure_pa": pair.pressure_pa,
        "provisional": pair.provisional,
        "settled_at": pair.settled_at.isoformat(),
    }
