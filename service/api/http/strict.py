"""A schema that refuses misspelt fields and names the ones that there are."""

from collections.abc import Callable
from typing import Any, ClassVar

import marshmallow as ma


class Strict(ma.Schema):
    """A schema that refuses what it does not know, and hands on what it has loaded under a type."""

    into: ClassVar[Callable[..., Any] | None] = None
    """What a loaded body becomes: a frozen dataclass, or a TypedDict where it matters what was left out."""

    class Meta:
        """Unknown fields are refused, not ignored."""

        unknown = ma.RAISE

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        known = ", ".join(sorted(field.data_key or name for name, field in self.load_fields.items()))
        told = f"no such field; known are {known or 'none'}"
        self.error_messages = {**self.error_messages, "unknown": told}

    def load(self, data: Any, **options: Any) -> Any:
        """Load a body as ``into``; raises ValidationError for a faulty one."""
        return self.built(super().load(data, **options))

    def built(self, loaded: Any) -> Any:
        """What the use case is handed."""
        return loaded if self.into is None else self.into(**loaded)

    def loaded_names(self) -> dict[str, bool]:
        """What ``built`` is given, and whether it is given it always."""
        absent = ma.missing
        return {
            field.attribute or name: field.required or field.load_default is not absent
            for name, field in self.load_fields.items()
        }
