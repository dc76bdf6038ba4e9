"""What JSON can hold, for what is JSON and nothing else: documents of OpenAPI, examples, details kept as they came."""

from collections.abc import Mapping, Sequence

Json = str | int | float | bool | None | Sequence["Json"] | Mapping[str, "Json"]
JsonObject = Mapping[str, Json]
