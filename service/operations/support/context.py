"""What every use case is handed: who acts, and what it may use. Built in ``service/wiring.py`` alone."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from service.codes import Scope
from service.cylinders.judgement.state import Trust
from service.cylinders.properties import Knowledge
from service.outbound.post import Post
from service.refrigerants.catalogue import Catalogue
from service.refrigerants.curves import SaturationCurves
from service.store.database import Database
from service.store.surroundings import Surroundings
from service.store.work import NewEvent, Work
from service.verdict.instruments.contents import Explanations
from service.verdict.model import CylinderFacts, Pair, Verdict
from service.verdict.priors import Prevalence

SCOPES: tuple[str, ...] = tuple(Scope)


@dataclass(frozen=True, slots=True)
class Actor:
    """
    Who acts: a token or a signed-in person, always of one organisation.

    Parameters
    ----------
    organisation_id
        Whose rows are seen and written.
    name
        For the audit log, ``token:gateway`` or ``person:rosa``.
    scope
        One of ``SCOPES``.
    person_id
        The signed-in person, none for a token.
    places
        Names of the places that a token is bound to; None: not bound.
    device
        The only device that a gateway's token posts readings of; None: of all.
    """

    organisation_id: int
    name: str
    scope: str
    person_id: int | None = None
    places: frozenset[str] | None = None
    device: str | None = None


class Judge(Protocol):
    """What a use case asks of the verdict engine."""

    def verdict(
        self,
        pairs: Sequence[Pair],
        facts: CylinderFacts,
        *,
        prior: str = "field",
        explain: bool = False,
        chart: bool = False,
    ) -> Verdict:
        """Judge some pairs of one cylinder's current contents."""
        ...

    def explanations(self, pair: Pair, facts: CylinderFacts, others: Sequence[Pair] = ()) -> Explanations:
        """What the set that read a pair would be off by, under each of what the cylinder may hold.

        ``others`` are of the same contents, already corrected; those that share an instrument with it say nothing.
        """
        ...


@dataclass(frozen=True, slots=True)
class Instruments:
    """Standard uncertainties of a pair that states none [K], [Pa]."""

    temperature_k: float
    pressure_pa: float
    temperature_bias_k: float
    pressure_bias_pa: float


@dataclass(frozen=True, slots=True)
class Policy:
    """
    Settings that use cases decide by.

    Parameters
    ----------
    instruments
        Of a pair that states none.
    default_elevation_m
        Where a place has none [m].
    prevalence
        The region's table.
    trust
        How far labels and records are believed.
    """

    instruments: Instruments
    default_elevation_m: float | None
    prevalence: Prevalence
    trust: Trust = field(default_factory=Trust)

    def elevation_m(self, of_place: float | None) -> float | None:
        """The elevation to reckon with at a place [m]: its own, else the installation's, else none."""
        return self.default_elevation_m if of_place is None else of_place


@dataclass(frozen=True, slots=True)
class Services:
    """
    Everything that a use case may use.

    Parameters
    ----------
    database
        Units of work.
    catalogue, curves
        Refrigerants and their saturation.
    knowledge
        What the rules of cylinders look things up in.
    judge
        The verdict engine.
    policy
        Settings.
    now
        The clock, aware UTC.
    new_secret
        Random text for tokens and passwords.
    post
        What leaves for other systems.
    surroundings
        The processes beside the service, and the room on its disk.
    """

    database: Database
    catalogue: Catalogue
    curves: SaturationCurves
    knowledge: Knowledge
    judge: Judge
    policy: Policy
    now: Callable[[], datetime]
    new_secret: Callable[[], str]
    post: Post
    surroundings: Surroundings


def tell(work: Work, actor: Actor, at: datetime, kind: str, subject: str, data: Mapping[str, Any]) -> None:
    """Record an event of this transaction; ``kind`` is one of ``operations.events``."""
    work.record(NewEvent(at, kind, subject, actor.name, data))
