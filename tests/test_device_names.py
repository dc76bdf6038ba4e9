"""Names short enough for a sentence."""

import pytest

from service.device_names import short


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("urn:dev:ops:32473-gauge-7", "gauge-7"),
        ("urn:dev:mac:0024befffe804ff1", "…804ff1"),
        ("urn:dev:ow:10e2073a01080063", "…080063"),
        ("urn:dev:example:clamp-3", "clamp-3"),
        ("clamp-3", "clamp-3"),
        ("urn:dev:", "urn:dev:"),
    ],
)
def test_a_name_is_said_by_what_tells_it_apart(name: str, said: str) -> None:
    assert short(name) == said
