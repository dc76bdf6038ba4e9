"""When a settled state becomes an equilibrium pair, and the pair as it is sent."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from ingest.estimator.settling import Estimate, Settling
from ingest.wire.hookup import Hookup, rfc3339

NEW_PAIR_AFTER_K = 3.0
"""A cylinder that has moved by this much since its last pair gives another one, [K]."""
CONTENTS_CHANGED_KG = 0.05
"""A change of the gross mass by this much makes the last pair old, [kg]."""
LEAST_UNCERTAINTY_PA = 1.0
"""Averaging leaves less than a gauge can mean, [Pa]; the service takes no uncertainty of zero."""


@dataclass(frozen=True, slots=True)
class EquilibriumPair:
    """A temperature and a pressure of one settled state.

    Parameters
    ----------
    hookup : int
        The service's number of the hookup.
    settled_at_s, from_s, to_s : float
        When it settled and the span that the pair comes from, seconds since 1970 UTC, [s].
    temp_k : float
        Temperature, [K].
    pressure_pa : float
        Pressure, absolute or gauge as `is_gauge` says, [Pa].
    temp_uncertainty_k, pressure_uncertainty_pa : float
        Standard uncertainties that the settling leaves open, [K] and [Pa].
    is_gauge : bool
        Whether the pressure is against the air.
    barometer_pa : float or None
        Pressure of the air where a barometer told it, [Pa].
    reasons : tuple of str
        What the reader must know.
    mass_kg : float or None
        Gross mass on the scale, [kg].
    ambient_k : float or None
        Air temperature, [K].
    temp_bias_k, pressure_bias_pa : float or None
        Calibration uncertainty of the instruments where the hookup knows it, [K] and [Pa].
    """

    hookup: int
    settled_at_s: float
    from_s: float
    to_s: float
    temp_k: float
    pressure_pa: float
    temp_uncertainty_k: float
    pressure_uncertainty_pa: float
    is_gauge: bool = True
    barometer_pa: float | None = None
    reasons: tuple[str, ...] = ()
    mass_kg: float | None = None
    ambient_k: float | None = None
    temp_bias_k: float | None = None
    pressure_bias_pa: float | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the body of `POST /equilibrium-pairs`."""
        body: dict[str, Any] = {
            "hookup": self.hookup,
            "temperature_c": round(self.temp_k - 273.15, 4),
            "gauge_pressure_kpa" if self.is_gauge else "absolute_pressure_kpa": round(
                self.pressure_pa / 1e3, 4
            ),
            "temperature_uncertainty_k": round(self.temp_uncertainty_k, 4),
            "pressure_uncertainty_kpa": round(
                max(self.pressure_uncertainty_pa, LEAST_UNCERTAINTY_PA) / 1e3, 4
            ),
            "settled_at": rfc3339(self.settled_at_s),
            "from": rfc3339(self.from_s),
            "to": rfc3339(self.to_s),
            "provisional": False,
            "reasons": list(self.reasons),
        }
        if self.is_gauge and self.barometer_pa is not None:
            body["ambient_pressure_kpa"] = round(self.barometer_pa / 1e3, 4)
        if self.mass_kg is not None:
            body["mass_kg"] = round(self.mass_kg, 4)
        if self.ambient_k is not None:
            body["ambient_temperature_c"] = round(self.ambient_k - 273.15, 3)
        if self.temp_bias_k is not None:
            body["temperature_bias_uncertainty_k"] = self.temp_bias_k
        if self.pressure_bias_pa is not None:
            body["pressure_bias_uncertainty_kpa"] = self.pressure_bias_pa / 1e3
        return body


def encoded(body: dict[str, Any]) -> str:
    """Return the one JSON text of a body."""
    return json.dumps(body, sort_keys=True, separators=(",", ":"))


def key(text: str) -> str:
    """Return the idempotency key of a body: made from its content, so that a repeat is known as one."""
    return hashlib.sha256(text.encode()).hexdigest()[:40]


@dataclass(slots=True)
class Pairing:
    """Decides which claims become pairs; one for each session."""

    was_settled: bool = False
    last_temp_k: float | None = None
    last_mass_kg: float | None = None
    contents_touched: bool = False

    def consider(self, settling: Settling, mass_kg: float | None) -> Estimate | None:
        """Return the estimate if what has just settled is a new pair, else None."""
        now, before = settling.settled, self.was_settled
        self.was_settled = now
        self.contents_touched = self.contents_touched or settling.pressure_stepped
        if not now or before:
            return None
        estimate = settling.estimate()
        if estimate is None or not self._is_new(estimate, mass_kg):
            return None
        self.last_temp_k, self.last_mass_kg = estimate.temp_k, mass_kg
        self.contents_touched = False
        settling.pressure_stepped = False
        return estimate

    def _is_new(self, estimate: Estimate, mass_kg: float | None) -> bool:
        if self.last_temp_k is None or self.contents_touched:
            return True
        if mass_kg is not None and self.last_mass_kg is not None:
            changed = abs(mass_kg - self.last_mass_kg) >= CONTENTS_CHANGED_KG
        else:
            changed = False
        return changed or abs(estimate.temp_k - self.last_temp_k) >= NEW_PAIR_AFTER_K


def pair_of(hookup: Hookup, estimate: Estimate, opened_s: float, **context: Any) -> EquilibriumPair:
    """Return the pair of an estimate made from absolute pressure; gauge hookups get it back as a gauge pressure."""
    is_gauge = context.pop("is_gauge", True)
    atmosphere_pa = context.pop("atmosphere_pa", hookup.atmosphere_pa)
    return EquilibriumPair(
        hookup=hookup.id,
        settled_at_s=estimate.stamp_s,
        from_s=opened_s,
        to_s=estimate.stamp_s,
        temp_k=estimate.temp_k,
        pressure_pa=estimate.pressure_pa - (atmosphere_pa if is_gauge else 0.0),
        temp_uncertainty_k=estimate.uncertainty_k,
        pressure_uncertainty_pa=estimate.pressure_uncertainty_pa,
        is_gauge=is_gauge,
        temp_bias_k=hookup.temperature_bias_k,
        pressure_bias_pa=hookup.pressure_bias_pa,
        **context,
    )
