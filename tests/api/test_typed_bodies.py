"""What a schema loads is what its type says, what it answers is there to be answered, and views say the same."""

import types
from collections.abc import Iterator
from dataclasses import MISSING, fields
from functools import cached_property
from typing import (
    Any,
    NotRequired,
    Required,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

import marshmallow as ma
import pytest

import service.api.routes  # noqa: F401  every schema is loaded with it
from service.api.http.answers import Answer, Itself, Listed, page_of, source_of
from service.api.http.strict import Strict
from service.api.http.typed_views import check_answer, check_body
from service.api.schemas.life import CareSchemaIn
from service.operations.care import Details
from service.store.care import Care

FILLED = {("RecoverySchemaIn", "method")}
"""What is null as posted and filled before it becomes its type."""
S = TypeVar("S", bound=ma.Schema)
OPEN = (Any, Listed)
"""What a path may lead into without anything more to be checked: JSON kept as it came, and pages of whatever."""


def below(kind: type[S]) -> Iterator[type[S]]:
    for one in kind.__subclasses__():
        if one.__module__.startswith("service.api"):
            yield one
        yield from below(one)


BODIES = sorted({one for one in below(Strict) if one.into is not None}, key=lambda one: one.__name__)
ANSWERS = sorted({one for one in below(Answer) if hasattr(one, "of")}, key=lambda one: one.__name__)


def takes(into: Any) -> dict[str, bool]:
    """Names that a type has, and whether it has to be given them."""
    if is_typeddict(into):
        return {name: name in into.__required_keys__ for name in inherited(into)}
    return {f.name: f.default is MISSING and f.default_factory is MISSING for f in fields(into)}


def inherited(into: Any) -> dict[str, Any]:
    return dict.fromkeys(into.__required_keys__ | into.__optional_keys__)


def plain(kind: Any) -> set[Any]:
    """The members of a union, without what says only that a key may be missing."""
    if get_origin(kind) in (Required, NotRequired):
        return plain(get_args(kind)[0])
    if get_origin(kind) in (Union, types.UnionType):
        return {one for part in get_args(kind) for one in plain(part)}
    return {kind}


@pytest.mark.parametrize("schema", BODIES)
def test_a_body_has_the_names_of_its_type(schema: type[Strict]) -> None:
    given, wanted = schema().loaded_names(), takes(schema.into)
    if issubclass(schema, CareSchemaIn):
        details = given.keys() - {"cylinder", "at", "passed"}
        assert details <= takes(Details).keys()
        return
    assert given.keys() <= wanted.keys(), "it loads what its type does not have"
    assert {name for name, is_wanted in wanted.items() if is_wanted} <= {
        name for name, is_sure in given.items() if is_sure
    }, "its type asks for what may not be there"


@pytest.mark.parametrize("schema", BODIES)
def test_a_body_that_may_hold_null_has_a_type_that_may(schema: type[Strict]) -> None:
    hints = get_type_hints(schema.into)
    for name, field in schema().load_fields.items():
        may_be_null = field.allow_none or field.load_default is None
        if (
            (schema.__name__, name) not in FILLED
            and name in hints
            and may_be_null
            and not issubclass(schema, CareSchemaIn)
        ):
            assert type(None) in plain(hints[name]), f"{schema.__name__}.{name} may be null"


@pytest.mark.parametrize("schema", ANSWERS)
def test_an_answer_names_attributes_that_there_are(schema: type[Answer]) -> None:
    for name, field in schema._declared_fields.items():
        if not isinstance(field, Itself):
            assert leads_somewhere(schema.of, schema.path(source_of(name, field)).split(".")), (
                f"{schema.__name__}.{name}"
            )


def leads_somewhere(kind: Any, path: list[str]) -> bool:
    found: set[Any] = {kind}
    for place, name in enumerate(path):
        if any(one is Any or get_origin(one) is dict or one in OPEN for one in found):
            return True
        assert type(None) not in found or place == 0 or path[0] == "ending", (
            f"{path}: {name} of what may be None"
        )
        found = {
            inner for one in found - {type(None)} for inner in plain(attribute(get_origin(one) or one, name))
        }
    return bool(found)


def attribute(kind: Any, name: str) -> Any:
    described = getattr(kind, name, None)
    if isinstance(described, property):
        assert described.fget is not None
        return get_type_hints(described.fget)["return"]
    if isinstance(described, cached_property):
        return get_type_hints(described.func)["return"]
    return get_type_hints(kind)[name]


def test_every_body_has_a_type():
    assert {one.__name__ for one in below(Strict) if one.into is None} <= {
        "EitherUnit", "OfPressure", "Forgiving", "_Closing",
    }  # fmt: skip


class Body(Strict):
    into = Details


class Told(Answer):
    of = Care


def test_a_view_that_takes_another_type_than_its_schema_makes_is_refused() -> None:
    def view(self: object, body: str) -> None: ...

    with pytest.raises(TypeError, match="has no parameter of"):
        check_body(view, Body())


def test_a_view_that_answers_another_type_than_its_schema_is_written_from_is_refused() -> None:
    def one(self: object) -> Details: ...

    def several(self: object) -> Listed[Details]: ...

    with pytest.raises(TypeError, match="is written from"):
        check_answer(one, Told)
    with pytest.raises(TypeError, match="is written from"):
        check_answer(several, page_of(Told))


def test_an_answer_that_lacks_what_it_promises_is_a_fault() -> None:
    class Promised(Told):
        missing = ma.fields.String(required=True)

    with pytest.raises(LookupError, match="missing"):
        Promised().dump({})
