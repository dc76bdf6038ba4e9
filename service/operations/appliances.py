"""Use cases for appliances: their charge, how fast they leak, what was done about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from service.codes import WorkKind
from service.cylinders.appliances import Addition, Kind, LeakRate, Method, applicable_rule, leak_rate
from service.cylinders.rules import Rule
from service.operations.checks import designation_of
from service.operations.support import calendar
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import APPLIANCE_CHANGED
from service.store import appliances
from service.store.appliances import Appliance, ApplianceWork, Charged
from service.store.equipment import Equipment
from service.store.paging import Page, PageRequest
from service.store.work import Work

WORKS: tuple[str, ...] = tuple(WorkKind)


@dataclass(frozen=True, slots=True)
class NewAppliance:
    """Equipment to register; the names are those that transfers carry."""

    location: str
    name: str
    refrigerant: str
    full_charge_kg: float
    kind: str
    owner: str = ""
    circuit: str = ""
    leak_method: str = str(Method.ANNUALIZED)


@dataclass(frozen=True, slots=True)
class LeakStatus:
    """An appliance with its leak rate today, the rule that it is under, and what was done."""

    appliance: Appliance
    on: date
    rate: LeakRate
    rule: Rule | None
    added_kg: float
    works: tuple[ApplianceWork, ...]

    @property
    def repair_by(self) -> date | None:
        """By when it has to be repaired, where a rule says so."""
        return self.rate.repair_by if self.rule else None

    @property
    def citation(self) -> str | None:
        """The clause that it is under; None: no leak rule known here."""
        return self.rule.citation if self.rule else None


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[Appliance]:
    """Every appliance."""
    with services.database.reading(actor.organisation_id) as work:
        return appliances.page(work, request)


def register(services: Services, actor: Actor, new: NewAppliance) -> Appliance:
    """
    Register an appliance.

    Raises
    ------
    Conflict
        When there is one of these names.
    Invalid
        When the refrigerant is unknown.
    """
    at = services.now()
    designation = designation_of(services, new.refrigerant)
    if designation is None:
        raise Invalid(FieldError("refrigerant", new.refrigerant, "a designation such as R-410A"))
    with services.database.writing(actor.organisation_id) as work:
        if appliances.same(work, new.owner, new.location, new.name, new.circuit) is not None:
            raise Conflict(
                [Reason("appliance-exists", f"{new.name} at {new.location} is registered already.")]
            )
        appliance_id = appliances.insert(
            work, owner=new.owner, location=new.location, name=new.name, circuit=new.circuit,
            designation=designation, full_charge_kg=new.full_charge_kg, kind=new.kind,
            leak_method=new.leak_method, created_at=at,
        )  # fmt: skip
        told = {"change": "registered", "name": new.name, "location": new.location}
        tell(work, actor, at, APPLIANCE_CHANGED, f"appliances/{appliance_id}", told)
        return _by_id(work, appliance_id)


def add_work(
    services: Services,
    actor: Actor,
    appliance_id: int,
    *,
    kind: str,
    passed: bool | None,
    technician: str | None = None,
    note: str | None = None,
    occurred_at: datetime | None = None,
) -> LeakStatus:
    """Record an inspection, a repair or a verification; answers how the appliance stands then."""
    at = services.now()
    since = occurred_at or at
    if since > at:
        raise Invalid(FieldError("at", since.isoformat(), "must not be in the future"))
    with services.database.writing(actor.organisation_id) as work:
        _by_id(work, appliance_id)
        appliances.add_work(
            work, appliance_id=appliance_id, kind=kind, passed=passed, technician=technician, note=note,
            occurred_at=since, recorded_at=at, recorded_by=actor.name,
        )  # fmt: skip
        told = {"change": kind, "passed": passed}
        tell(work, actor, at, APPLIANCE_CHANGED, f"appliances/{appliance_id}", told)
        return _leak_status(services, work, _by_id(work, appliance_id))


def leak_status(services: Services, actor: Actor, appliance_id: int) -> LeakStatus:
    """How an appliance stands today."""
    with services.database.reading(actor.organisation_id) as work:
        return _leak_status(services, work, _by_id(work, appliance_id))


def leak_statuses(services: Services, work: Work) -> list[LeakStatus]:
    """How every appliance stands today; the number of queries is constant."""
    known = appliances.everything(work)
    if not known:
        return []
    works, charged = appliances.works(work), appliances.charged(work)
    return [_judged(services, work, one, works.get(one.id, []), charged) for one in known]


def _leak_status(services: Services, work: Work, appliance: Appliance) -> LeakStatus:
    works = appliances.works_of(work, appliance.id)
    return _judged(services, work, appliance, works, appliances.charged(work))


def _judged(
    services: Services,
    work: Work,
    appliance: Appliance,
    works: Sequence[ApplianceWork],
    charged: Sequence[Charged],
) -> LeakStatus:
    on = calendar.today(services, work)
    additions = [
        Addition(calendar.local_date(work, one.occurred_at), one.mass_kg)
        for one in charged
        if _is_of(one.equipment, appliance)
    ]
    repaired = [
        calendar.local_date(work, one.occurred_at)
        for one in works
        if one.kind == WorkKind.VERIFICATION_FOLLOW_UP and one.passed
    ]
    rate = leak_rate(
        additions, appliance.full_charge_kg, Kind(appliance.kind), Method(appliance.leak_method), on=on,
        repaired_on=max(repaired, default=None),
    )  # fmt: skip
    held = services.catalogue[appliance.designation]
    rule = applicable_rule(appliance.full_charge_kg, odp=held.odp.value, gwp=held.gwp_ar4.value, on=on)
    return LeakStatus(appliance, on, rate, rule, sum(one.mass_kg for one in additions), tuple(works))


def _is_of(equipment: Equipment, appliance: Appliance) -> bool:
    """Whether a transfer's equipment is this appliance: by its names, without case."""
    told = tuple(str(equipment.get(name) or "") for name in ("owner", "location", "appliance", "circuit"))
    own = (appliance.owner, appliance.location, appliance.name, appliance.circuit)
    return tuple(map(str.casefold, told)) == tuple(map(str.casefold, own))


def _by_id(work: Work, appliance_id: int) -> Appliance:
    found = appliances.by_id(work, appliance_id)
    if found is None:
        raise NotFound("appliance", appliance_id)
    return found
