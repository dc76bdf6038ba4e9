"""Schema for an entry of what else was seen of a cylinder's contents."""

from typing import Any

from service.api.fields import Among, Text
from service.api.schemas.life import CareSchemaIn
from service.api.schemas.observations import ObservationsSchema
from service.operations.care import Entry
from service.operations.observing import COMPOSED
from service.verdict.document import plain
from service.verdict.reads_the_same import PROVENANCES


class ObservationSchema(CareSchemaIn, ObservationsSchema):
    """What else was seen of the contents than pressure and temperature."""

    kind = "observation"
    into = Entry
    either = (*CareSchemaIn.either, *ObservationsSchema.either)

    provenance = Text(
        validate=Among(list(PROVENANCES)),
        metadata={"description": "maker: a maker's sealed container; records: own, without a gap; unknown"},
    )

    def loaded_names(self) -> dict[str, bool]:
        """The same, compositions by the names that an entry keeps them under."""
        names = super().loaded_names()
        return names | {f"{kind}_composition": names.pop(kind) for kind in COMPOSED}

    def built(self, loaded: Any) -> Entry:
        """Gather the details, compositions as plain data."""
        for kind in COMPOSED:
            if kind in loaded:
                loaded[f"{kind}_composition"] = plain(loaded.pop(kind))
        return super().built(loaded)
