"""Random cylinders in plain facts, and the same as the rules take them."""

from dataclasses import dataclass
from datetime import date
from random import Random
from typing import Any

from service.cylinders.contents import Contents
from service.cylinders.judgement.assessment import Assessment
from service.cylinders.judgement.belief import Belief, Content, Kind, Source
from service.cylinders.judgement.state import CylinderState, Incoming
from service.cylinders.markings import read_marks
from service.cylinders.requalification import Condition, Dates
from service.cylinders.requalification_stamp import Stamp

TODAY = date(2026, 11, 25)
COMMON = ("R-22", "R-32", "R-134a", "R-290", "R-404A", "R-407C", "R-410A", "R-454B", "R-600a", "R-717", "R-744",
          "R-1234yf", "R-23", "R-12", "R-764", "R-500", "R-744A")  # fmt: skip
# Specification, pressure as stamped [psig], text.
DOT = [
    (spec, psi, f"{authority}{spec}{psi}{test}")
    for spec, pressures in {
        "4B": (150, 240, 300, 400), "4BA": (225, 240, 260, 300, 350, 387, 388, 400, 500), "4BW": (225, 260, 400, 500),
        "4E": (225, 240), "3A": (225, 480, 1800), "3AA": (400, 480, 1800, 2015, 2265, 2400), "3AL": (240, 480, 1800),
        "3E": (1800,), "4AA": (480,), "3B": (150, 240, 300),
    }.items()
    for psi in pressures
    for authority in ("DOT-", "ICC ", "")
    for test in ("",)
]  # fmt: skip
ISO_BAR = (10, 12, 22, 22.4, 22.5, 27, 29, 30, 38, 40, 41, 42, 43, 48, 100, 190, 250)


@dataclass(frozen=True)
class Cylinder:
    """Plain facts; ``spec`` None and ``ph_bar`` None is a mark that nobody can read."""

    marks: str
    law: str
    spec: str | None
    psi: float
    ph_bar: float | None
    disposable: bool
    conform: bool
    water_kg: float | None
    tare_kg: float | None
    stamp: tuple[int, int] | None
    first_stamp: bool
    condition: str
    statement: bool
    stated_due: date | None
    life_ends: date | None
    toxic_service: bool
    shares: dict[str, float]
    net_kg: float | None
    evacuated: bool
    recorded: bool
    label: str | None
    claims: tuple[str, ...]
    carried: Belief | None
    reading: Assessment | None
    released: frozenset[str]
    holds: tuple[str, ...]
    standing: str
    flammable_marked: bool
    found_pressure_pa: float | None

    def state(self) -> CylinderState:
        """As the rules take it."""
        stamp = None if self.stamp is None else Stamp(*self.stamp)
        return CylinderState(
            "HM-1", read_marks(self.marks, law=self.law), self.water_kg, self.tare_kg,
            Dates(stamp, self.first_stamp, Condition(self.condition), "as stated" if self.statement else None,
                  self.stated_due, self.life_ends, self.toxic_service),
            Contents(self.shares, self.net_kg, self.evacuated, "record" if self.recorded else "none"),
            self.label, self.claims, self.carried, self.reading, self.released, self.holds, self.standing,
            self.flammable_marked, found_pressure_pa=self.found_pressure_pa,
        )  # fmt: skip


def random_cylinder(dice: Random) -> Cylinder:
    """Any cylinder; half of all are in good order, so that not everything is refused for its age."""
    good = dice.random() < 0.5
    water = dice.choice((5.4, 11.9, 21.6, 23.8, 55.3)) if good or dice.random() < 0.9 else None
    stamped = dice.random()
    return Cylinder(
        **_marks(dice, good), **_contents(dice, water),
        water_kg=water, tare_kg=12.4 if good or dice.random() < 0.8 else None,
        stamp=(2024, 6) if good else None if stamped < 0.15 else (dice.randint(2009, 2026), dice.randint(1, 11)),
        first_stamp=dice.random() < 0.3,
        condition=dice.choice([one.value for one in Condition]), statement=dice.random() < 0.5,
        stated_due=date(dice.randint(2024, 2028), dice.randint(1, 12), 9) if not good and dice.random() < 0.1 else None,
        life_ends=date(2026, 11, dice.randint(20, 30)) if not good and dice.random() < 0.1 else None,
        toxic_service=dice.random() < 0.2,
        holds=("dented",) if not good and dice.random() < 0.2 else (),
        standing="scrapped" if not good and dice.random() < 0.1 else "in-service",
        flammable_marked=dice.random() < 0.5,
        found_pressure_pa=3e5 if dice.random() < 0.05 else None,
        released=frozenset(one for one in ("hold", "measure-again", "label", "not-empty", "recover-and-recycle",
                                           "send-to-reclaimer") if dice.random() < 0.15),
    )  # fmt: skip


def random_incoming(dice: Random) -> Incoming:
    """By its nameplate, by a check of the equipment, by neither, or out of another cylinder."""
    mass_kg = dice.choice((0.1, 1.0, 4.0, 9.0, 20.0))
    kind = dice.random()
    if kind < 0.6:
        return Incoming(dice.choice(COMMON), mass_kg)
    if kind < 0.8:
        checked = tuple(dict.fromkeys(dice.choice(COMMON) for _ in range(dice.randint(1, 3))))
        return Incoming(dice.choice((None, *COMMON)), mass_kg, checked)
    if kind < 0.9:
        return Incoming(dice.choice((None, dice.choice(COMMON))), mass_kg, belief=random_belief(dice))
    return Incoming(None, mass_kg)


def random_belief(dice: Random, source: Source = Source.VERDICT) -> Belief:
    """One to four refrigerants, each with what may be with it."""
    names = list(dict.fromkeys(dice.choice(COMMON) for _ in range(dice.randint(1, 4))))
    weights = [dice.random() ** dice.choice((1, 4)) + 1e-3 for _ in names]
    known = dice.choice((1.0, 1.0, 0.97, 0.6, 0.3)) / sum(weights)
    contents = []
    for name, weight in zip(names, weights, strict=True):
        usual = [dice.random() ** dice.choice((1, 8)) for _ in Kind]
        share = weight * known / sum(usual)
        kinds = {kind: share * one for kind, one in zip(Kind, usual, strict=True)}
        partners = {}
        if dice.random() < 0.5:
            partners = {dice.choice(COMMON): kinds[Kind.MIXED] * dice.random() for _ in range(2)}
        partners.pop(name, None)
        contents.append(Content(name, kinds, partners, source))
    return Belief(tuple(sorted(contents, key=lambda one: -one.probability)))


def _marks(dice: Random, good: bool) -> dict[str, Any]:
    law = "us" if dice.random() < 0.7 else dice.choice(("eu", "ca", "au"))
    kind = dice.random()
    spec, psi, ph, disposable, conform, text = None, 0.0, None, False, False, "rusted away"
    if kind < 0.6 or (good and kind < 0.75):
        spec, psi, text = dice.choice(DOT)
    elif kind < 0.85:
        ph, conform = dice.choice(ISO_BAR), dice.random() < 0.7
        text = f"PH {ph:g} BAR" + (dice.choice((" UN", " π")) if conform else "")
    elif kind < 0.95:
        spec, psi, disposable, text = "39", 400.0, True, "DOT-39 NRC 400/500"
    if not good and not disposable and dice.random() < 0.05:
        disposable, text = True, f"{text} NON-REFILLABLE"
    return {"marks": text, "law": law, "spec": spec, "psi": psi, "ph_bar": ph, "disposable": disposable,
            "conform": conform}  # fmt: skip


def _contents(dice: Random, water_kg: float | None) -> dict[str, Any]:
    kind, label = dice.random(), dice.choice((None, *COMMON))
    net = round((water_kg or 21.6) * dice.choice((0.1, 0.3, 0.6, 0.8, 0.95, 1.2)) * dice.uniform(0.9, 1.1), 2)
    evacuated = kind < 0.1
    empty = kind < 0.18
    shares: dict[str, float] = {}
    if dice.random() < 0.5:
        names = list(
            dict.fromkeys(dice.choice((*COMMON, "unknown")) for _ in range(dice.choice((1, 1, 2, 3))))
        )
        first = dice.choice((0.6, 0.994, 0.996)) if len(names) > 1 else 1.0
        shares = {names[0]: first, **{name: (1.0 - first) / (len(names) - 1) for name in names[1:]}}
    reading = _reading(dice) if dice.random() < 0.5 else None
    return {
        "shares": shares, "net_kg": 0.0 if empty else None if dice.random() < 0.1 else net, "evacuated": evacuated,
        "recorded": bool(shares), "label": label, "reading": reading,
        "claims": tuple(dict.fromkeys(one for one in (label, dice.choice(COMMON)) if one and dice.random() < 0.6)),
        "carried": random_belief(dice, Source.CARRIED) if dice.random() < 0.2 else None,
    }  # fmt: skip


def _reading(dice: Random) -> Assessment:
    belief = random_belief(dice)
    air = dice.choice((0.0, 0.0, 20_000.0, 300_000.0))
    disposition = dice.choice(("keep", "keep", "keep", "measure-again", "hold", "recover-and-recycle",
                               "send-to-reclaimer", "send-for-destruction"))  # fmt: skip
    return Assessment(
        "narrowed", tuple(one.designation for one in belief.contents), "undecided",
        dice.choice(("two-phase", "two-phase", "vapour-only", "liquid-full")), disposition, f"{disposition} it", belief,
        dice.choice((0.0, 0.0, 0.01, 0.03, 0.2)), air, dice.random() < 0.3,
    )  # fmt: skip
