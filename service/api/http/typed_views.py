"""What ties a view to its schemas: mypy checks a view by its annotations, and these have to say what the schemas do."""

from collections.abc import Callable
from typing import Any, get_args, get_origin, get_type_hints

import marshmallow as ma

from service.api.http.answers import Answer, Listed
from service.api.http.strict import Strict

View = Callable[..., Any]


def check_body(view: View, schema: ma.Schema) -> None:
    """Refuse a view that takes a body as something else than its schema makes of it."""
    if not isinstance(schema, Strict) or schema.into is None:
        raise TypeError(f"{type(schema).__name__} makes no type of what it loads")
    hints = get_type_hints(view)
    if schema.into not in [kind for name, kind in hints.items() if name != "return"]:
        raise TypeError(f"{view.__qualname__} has no parameter of {schema.into}")


def check_answer(view: View, schema: type[ma.Schema]) -> None:
    """Refuse a view that answers something else than its schema is written from."""
    if not issubclass(schema, Answer):
        raise TypeError(f"{schema.__name__} does not say what it is written from")
    told = get_type_hints(view)["return"]
    if get_origin(told) is tuple:
        told = get_args(told)[0]
    wanted: Any = schema.of
    if get_origin(told) is Listed:
        (told,), wanted = get_args(told), _item_of(schema)
    if told is not wanted:
        raise TypeError(f"{view.__qualname__} answers {told}, {schema.__name__} is written from {wanted}")


def _item_of(schema: type[Answer]) -> Any:
    items = schema._declared_fields["items"]
    if not isinstance(items, ma.fields.List) or not isinstance(items.inner, ma.fields.Nested):
        raise TypeError(f"{schema.__name__} is no list")
    inner = items.inner.nested
    return getattr(inner, "of", None)
