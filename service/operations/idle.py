"""Instruments that learn while nobody uses them: a gauge that hangs open, thermometers that lie beside each other."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from service.operations import instruments as use_cases
from service.operations.support.context import Actor, Services
from service.store import devices, hookups, idle_runs, instruments, organisations
from service.store.devices import Device
from service.store.idle_runs import IdleRun
from service.store.work import Work
from service.verdict.instruments import idle

FRESH: Final = timedelta(minutes=5)
"""A device that was not heard for so long has ended its run."""
EVERY: Final = timedelta(days=7)
"""A device learns so from itself at most once a week: another night on the same shelf says the same again."""
ZERO, TEMPERATURE = "zero_pa", "temperature_k"
METHOD: Final = {ZERO: "open-air-idle", TEMPERATURE: "shelf"}


@dataclass(frozen=True, slots=True)
class Seen:
    """One value of one round: the error [Pa] or [K], how many were beside it, and the air there [K]."""

    device: str
    quantity: str
    error: float
    beside: int
    air_k: float | None


def review(services: Services) -> None:
    """Look at what hangs on no cylinder, of every owner; once a minute."""
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        actor = Actor(owner, "service:watch", "administrator")
        with services.database.writing(owner) as work:
            _look(services, work, actor)


def _look(services: Services, work: Work, actor: Actor) -> None:
    at = services.now()
    runs = idle_runs.everything(work)
    seen = {(one.device, one.quantity): one for one in _seen(work, at)}
    for key, run in runs.items():
        if key not in seen:
            _close(services, work, actor, run)
    for key, one in seen.items():
        if (found := runs.get(key)) is None:
            idle_runs.insert(work, **_first(one, at))
        elif not _goes_on(found, one):
            _close(services, work, actor, found)
        else:
            idle_runs.change(work, found.id, **_next(found, one, at))


def _seen(work: Work, at: datetime) -> Iterator[Seen]:
    """What every device on no cylinder shows just now."""
    attached = hookups.attached_devices(work)
    free = [one for one in devices.heard_since(work, at - FRESH) if one.name not in attached]
    by_place: dict[str | None, list[Device]] = {}
    for one in free:
        by_place.setdefault(one.place, []).append(one)
    for here in by_place.values():
        warm = [(one, _value(one, "wall-temperature")) for one in here]
        shown = [(one, value) for one, value in warm if value is not None]
        errors = idle.beside([value for _, value in shown]) if shown else []
        air_k = sum(value for _, value in shown) / len(shown) if shown else None
        for (one, _), error in zip(shown, errors, strict=True):
            if abs(error) <= idle.NEAR_K:
                yield Seen(one.name, TEMPERATURE, error, len(shown), air_k)
        for one in here:
            pressure = _value(one, "gauge-pressure")
            if pressure is not None and abs(pressure) <= idle.NEAR_ZERO_PA:
                yield Seen(one.name, ZERO, pressure, 1, air_k)


def _value(device: Device, name: str) -> float | None:
    reading: Mapping[str, object] | None = device.readings.get(name)
    value = None if reading is None else reading.get("value")
    return float(value) if isinstance(value, int | float) else None


def _goes_on(run: IdleRun, one: Seen) -> bool:
    """Whether it still stands as still as it must; a jump starts it over."""
    still = idle.STILL_PA if one.quantity == ZERO else idle.STILL_K
    return max(run.high, one.error) - min(run.low, one.error) <= still


def _first(one: Seen, at: datetime) -> dict[str, object]:
    return {
        "device": one.device, "quantity": one.quantity, "since": at, "last_at": at, "rounds": 1,
        "total": one.error, "low": one.error, "high": one.error, "beside": one.beside,
        "low_k": one.air_k, "high_k": one.air_k,
    }  # fmt: skip


def _next(run: IdleRun, one: Seen, at: datetime) -> dict[str, object]:
    air = [value for value in (run.low_k, run.high_k, one.air_k) if value is not None]
    return {
        "last_at": at, "rounds": run.rounds + 1, "total": run.total + one.error,
        "low": min(run.low, one.error), "high": max(run.high, one.error),
        "beside": min(run.beside, one.beside), "low_k": min(air, default=None), "high_k": max(air, default=None),
    }  # fmt: skip


def _close(services: Services, work: Work, actor: Actor, run: IdleRun) -> None:
    """The run is over: learn from it where it says something and nothing was learned so of late."""
    idle_runs.end(work, run.id)
    seconds = (run.last_at - run.since).total_seconds()
    warmed = None if run.low_k is None or run.high_k is None else run.high_k - run.low_k
    said = (
        idle.is_open_air(seconds, run.low, run.high, warmed)
        if run.quantity == ZERO
        else idle.saw_one_air(seconds, run.low, run.high, run.beside)
    )
    if not said or not _is_time(work, run):
        return
    class_k = services.policy.instruments.temperature_bias_k
    uncertainty = idle.OPEN_PA if run.quantity == ZERO else idle.beside_uncertainty_k(class_k, run.beside)
    use_cases.note_idle(
        services, work, actor, run.device, METHOD[run.quantity], run.quantity, run.total / run.rounds,
        uncertainty, run.last_at,
    )  # fmt: skip


def _is_time(work: Work, run: IdleRun) -> bool:
    done: Sequence[instruments.StoredCheck] = instruments.checks_of(work, [run.device])
    return not any(
        one.method == METHOD[run.quantity] and run.last_at - one.checked_at < EVERY for one in done
    )
