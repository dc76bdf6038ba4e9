"""A schema that refuses misspelt fields and names the ones that there are."""

from typing import Any

import marshmallow as ma


class Strict(ma.Schema):
    """A schema that refuses what it does not know."""

    class Meta:
        """Unknown fields are refused, not ignored."""

        unknown = ma.RAISE

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        known = ", ".join(sorted(field.data_key or name for name, field in self.load_fields.items()))
        told = f"no such field; known are {known or 'none'}"
        self.error_messages = {**self.error_messages, "unknown": told}
