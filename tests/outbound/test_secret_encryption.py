"""A sealed secret comes back under the same key alone, and does not show."""

import pytest

from service.outbound.secret_encryption import Seal, UnreadableSeal

KEY = "k" * 40


def test_sealed_secret_comes_back_and_does_not_show() -> None:
    sealed = Seal(KEY).close("whsec_abc")
    assert Seal(KEY).open(sealed) == "whsec_abc"
    assert "whsec" not in sealed
    assert Seal(KEY).close("whsec_abc") != sealed


@pytest.mark.parametrize("damage", [lambda s: s[:-2] + "AA", lambda s: "", lambda s: s.upper()])
def test_a_damaged_seal_does_not_open(damage) -> None:
    with pytest.raises(UnreadableSeal):
        Seal(KEY).open(damage(Seal(KEY).close("x" * 30)))


def test_another_key_does_not_open_it() -> None:
    with pytest.raises(UnreadableSeal):
        Seal("o" * 40).open(Seal(KEY).close("x"))
