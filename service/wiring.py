"""The composition root: the one place where real implementations are chosen."""

import secrets
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from functools import cached_property
from threading import Lock

from threadpoolctl import threadpool_limits

from service.cylinders.judgement.state import Trust
from service.operations.support.context import Instruments, Judge, Policy, Services
from service.operations.support.rule_data import knowledge_of
from service.outbound.addresses import AddressPolicy
from service.outbound.backoff import Backoff
from service.outbound.post import Post
from service.outbound.secret_encryption import Seal
from service.outbound.sender import Sender
from service.settings import Settings
from service.store.artefacts import (
    load_catalogue,
    load_curves,
    load_look_alikes,
    load_provenance,
    load_surfaces,
)
from service.store.database import Database
from service.store.prevalence import load_prevalence
from service.store.surroundings import Surroundings
from service.verdict.engine import VerdictEngine
from service.verdict.instruments import contents
from service.verdict.instruments.contents import Explanations
from service.verdict.model import CylinderFacts, Pair, Verdict


def utc_now() -> datetime:
    """The machine's clock."""
    return datetime.now(UTC)


def new_secret() -> str:
    """256 random bits as text."""
    return secrets.token_urlsafe(32)


def wire(
    settings: Settings,
    *,
    database: Database | None = None,
    judge: Judge | None = None,
    now: Callable[[], datetime] = utc_now,
) -> Services:
    """
    Everything that use cases may use, from settings.

    Parameters
    ----------
    settings
        As read from the environment.
    database, judge, now
        Taken instead of the real ones, for tests.

    Returns
    -------
    Services
        Ready; connections are opened on first use.
    """
    usual, prevalence = settings.instruments, load_prevalence(settings.region)
    catalogue, curves = load_catalogue(), load_curves()
    return Services(
        database=database or Database(settings.database_url),
        catalogue=catalogue,
        curves=curves,
        knowledge=knowledge_of(catalogue, curves),
        judge=judge or LateJudge(settings.region),
        policy=Policy(
            instruments=Instruments(
                temperature_k=usual.temperature_k,
                pressure_pa=usual.pressure_pa,
                temperature_bias_k=usual.temperature_bias_k,
                pressure_bias_pa=usual.pressure_bias_pa,
            ),
            default_elevation_m=settings.default_elevation_m,
            prevalence=prevalence,
            trust=Trust(prevalence.label_reliability, prevalence.record_reliability),
        ),
        now=now,
        new_secret=new_secret,
        post=post_office(settings),
        surroundings=Surroundings(settings.data, settings.stack_report, settings.certificate),
    )


class LateJudge:
    """
    The verdict engine, built with the first question: commands that judge nothing do not wait for its tables.

    Verdicts wait for their turn. Each is a long row of short array operations, and threads that pass the interpreter
    to each other between any two of them spend a fifth more of the processor and answer a third later.

    Parameters
    ----------
    region
        Whose table of prevalences it starts from.
    engine
        Where it is built already.
    """

    def __init__(self, region: str, engine: VerdictEngine | None = None) -> None:
        self._region = region
        if engine is not None:
            self.engine = engine
        self._turn = Lock()

    @cached_property
    def engine(self) -> VerdictEngine:
        """The engine; a server hands it over before it takes requests."""
        return verdict_engine(self._region)

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
        with self._turn:
            return self.engine.verdict(pairs, facts, prior=prior, explain=explain, chart=chart)

    def explanations(self, pair: Pair, facts: CylinderFacts, others: Sequence[Pair] = ()) -> Explanations:
        """What the set that read a pair would be off by, under each of what the cylinder may hold."""
        with self._turn:
            return contents.explain(self.engine, pair, facts, others)


def post_office(settings: Settings) -> Post:
    """What leaves for other systems: to which hosts, signed how, given up when."""
    return Post(
        sender=Sender(
            AddressPolicy(settings.webhook_named_hosts), total_timeout_s=settings.webhook_timeout_s
        ),
        seal=Seal(settings.secret_key),
        backoff=Backoff(
            first=timedelta(seconds=settings.webhook_first_retry_s),
            give_up_after=timedelta(hours=settings.webhook_give_up_hours),
        ),
        source=settings.public_url.rstrip("/"),
    )


def verdict_engine(region: str) -> VerdictEngine:
    """
    The verdict engine over the tables that ship with the package, with a region's priors.

    Its products of matrices are small: threads of the linear algebra library would wait for each other longer than
    they compute, and on a busy machine make a verdict three times slower. The whole process is limited to one.
    """
    threadpool_limits(1, user_api="blas")
    return VerdictEngine(
        load_curves(),
        load_surfaces(),
        load_catalogue(),
        load_prevalence(region),
        look_alikes=load_look_alikes(),
        tables_version=str(load_provenance()["made_on"]),
    )
