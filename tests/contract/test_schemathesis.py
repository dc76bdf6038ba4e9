"""
The document is true: requests made from it get the answers that it promises, and what it forbids is refused.

``HEELMARK_TEST_EXAMPLES`` sets the number of requests per operation.

Left out, with reasons:

* ``GET /events`` never ends by itself; its own tests are in ``tests/api/test_events.py``.
* ``positive_data_acceptance``: accepts 4xx that rest on what JSON Schema cannot say (a time that has come, a catalogued
  designation, a tare below the gross weight, an absolute pressure above the local vacuum), so 409 and 422 count as
  answers beside its own list.
"""

import os
import traceback
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.core.parameters import ParameterLocation
from schemathesis.specs.openapi.checks import negative_data_rejection

from service.app import create_app
from service.operations import tokens
from service.settings import Settings
from service.store.database import Database
from service.wiring import wire
from tests.conftest import make_owner
from tests.support import databases
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge
from tests.support.story import play

EXAMPLES = int(os.environ.get("HEELMARK_TEST_EXAMPLES", "8"))
CONFIG = SchemathesisConfig.from_dict(
    {
        "checks": {
            "positive_data_acceptance": {"expected-statuses": ["2xx", 304, 401, 403, 404, 409, 412, 422, 428]}
        }
    }
)
FORGIVING = ("PUT /api/v1/live", "POST /api/v1/imports/cylinders", "POST /api/v1/imports/devices")
"""Take what is good of a body and tell what is not."""


class Played:
    """An application in which every example has been played, with its tokens."""

    def __init__(self, folder: Path) -> None:
        settings = Settings(
            data=folder,
            database_url="sqlite://",
            secret_key="s" * 40,
            request_limit="1000000 per second",
            failure_limit="1000000 per second",
        )
        self.database = Database(databases.fresh_sqlite(folder))
        services = wire(settings, database=self.database, judge=ScriptedJudge(), now=Clock())
        self.app = create_app(settings, services)
        owner = make_owner(services)
        self.secrets = {
            scope: tokens.create(services, owner, name=scope, scope=scope).secret
            for scope in ("administrator", "worker")
        }
        play(self.app, [self.client(scope) for scope in self.secrets])

    def client(self, scope: str) -> Any:
        """A client of a scope."""
        client = self.app.test_client()
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {self.secrets[scope]}"
        return client


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Played]:
    played = Played(tmp_path_factory.mktemp("contract"))
    yield played
    played.database.dispose()


@pytest.mark.timeout(120 * EXAMPLES)
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
def test_the_document_is_true(played: Played, mode: GenerationMode) -> None:
    schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", played.app, config=CONFIG)
    faults = {}
    for result in schema.exclude(path="/api/v1/events").get_all_operations():
        operation = result.ok()
        try:
            judge_operation(played, operation, mode)
        except Unsatisfiable:
            # Nothing can be wrong with an operation that takes nothing.
            assert mode is GenerationMode.NEGATIVE, operation.label
        except (FailureGroup, Failure) as failure:
            faults[operation.label] = "".join(traceback.format_exception_only(failure))
    assert not faults, "\n\n".join(f"{label}\n{told}" for label, told in faults.items())


def judge_operation(played: Played, operation: Any, mode: GenerationMode) -> None:
    """Ask one operation many times and hold its answers to every check."""
    granted = operation.definition.raw.get("x-scopes", [])
    scope = "worker" if granted == ["worker"] else "administrator"
    headers = {"Authorization": f"Bearer {played.secrets[scope]}"}

    @given(case=operation.as_strategy(generation_mode=mode))
    @examples(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    def ask(case: Any) -> None:
        if mode is GenerationMode.POSITIVE or operation.label not in FORGIVING:
            case.call_and_validate(headers=headers)
            return
        answer = case.call_and_validate(headers=headers, excluded_checks=[negative_data_rejection])
        body = case.meta.components.get(ParameterLocation.BODY)
        spoilt = body is not None and body.mode is GenerationMode.NEGATIVE
        assert answer.status_code != 200 or answer.json()["refused"] or not spoilt

    ask()
