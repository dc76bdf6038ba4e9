"""What leaves the shop: readings and what turned out, and nothing that names anybody."""

import json
import re

import pytest

from service.operations import analyses, cylinders, field_data, hookups, pairs
from service.operations.analyses import KINDS, STATES, NewAnalysis
from service.operations.hookups import NewHookup
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.paperwork import field_package
from tests.support import field_package as reader
from tests.support.clock import Clock

SECRETS = (
    "HM-77",
    "shop",
    "clamp-77",
    "gauge-77",
    "Example Analytical",
    "L-77",
    "very private",
    "token:test",
)


@pytest.fixture
def shop(services: Services, actor: Actor, clock: Clock) -> dict[str, str]:
    """Two cylinders read by one set, one by hand, two results; answers the package's files."""
    for number, label in ((770, "r22"), (771, None)):
        cylinders.register(
            services,
            actor,
            f"HM-{number}",
            {"place": "shop", "claimed_designation": label, "notes": "very private"},
        )
        hookup = hookups.attach(services, actor, NewHookup(f"HM-{number}", "gauge-77", "clamp-77"))
        for temp_k in (298.0, 299.5):
            clock.forward(minutes=77)
            pressure = PressureReading(absolute_pa=1_044_000.0)
            pairs.record(services, actor, NewPair(hookup_id=hookup.id, temp_k=temp_k, pressure=pressure))
        hookups.detach(services, actor, hookup.id)
    cylinders.register(services, actor, "HM-772", {"place": "shop"})
    pairs.record(
        services, actor, NewPair(serial="HM-772", temp_k=290.0, pressure=PressureReading(absolute_pa=5e5))
    )
    parts = {"R-22": 0.97, "R-134a": 0.02}
    analyses.record(
        services, actor,
        NewAnalysis("HM-770", "laboratory", mass_fractions=parts, laboratory="Example Analytical", number="L-77",
                    note="very private", moisture_ppm=12.5),
    )  # fmt: skip
    analyses.record(services, actor, NewAnalysis("HM-771", "credit", "R-22"))
    cylinders.register(services, actor, "HM-773", {"place": "shop"})
    analyses.record(services, actor, NewAnalysis("HM-773", "opened", "R-22"))
    return field_data.package(services, actor)


def test_it_is_a_data_package_and_has_everything(shop: dict[str, str]) -> None:
    tables = reader.read(shop)
    assert sorted(row["label"] or "" for row in tables["contents"]) == ["", "", "R-22"]
    assert len(tables["pairs"]) == 5
    assert {(row["thermometer"], row["gauge"]) for row in tables["pairs"]} == {(1, 1), (None, None)}
    by_kind = {row["kind"]: row for row in tables["truths"]}
    assert (by_kind["laboratory"]["state"], by_kind["laboratory"]["moisture_ppm"]) == ("mixed", 12.5)
    assert by_kind["credit"]["designation"] == "R-22"
    assert "opened" not in by_kind, "nothing was read of it"
    found = {row["designation"]: row["mass_fraction"] for row in tables["compositions"]}
    assert found == {"R-22": 0.97, "R-134a": 0.02}
    labelled = next(row["contents"] for row in tables["contents"] if row["label"])
    read = [row["temp_k"] for row in tables["pairs"] if row["contents"] == labelled]
    assert read == [298.0, 299.5]
    assert by_kind["laboratory"]["contents"] == labelled


def test_nothing_in_it_names_anybody_or_a_time_of_day(shop: dict[str, str]) -> None:
    text = "\n".join(text for name, text in shop.items() if name.endswith(".csv"))
    assert [secret for secret in SECRETS if secret in text] == []
    assert re.search(r"\d\d:\d\d", text) is None
    assert json.loads(shop["datapackage.json"])["created"].endswith("T00:00:00Z")


def test_numbers_do_not_tell_which_came_first(services: Services, actor: Actor, shop: dict[str, str]) -> None:
    seen = set()
    for _ in range(12):
        rows = reader.read(field_data.package(services, actor))["contents"]
        seen.add(next(row["contents"] for row in rows if row["label"]))
    assert len(seen) > 1


def test_the_words_are_the_services_own() -> None:
    assert (field_package.KINDS, field_package.STATES) == (KINDS, STATES)


def test_a_broken_package_is_noticed(shop: dict[str, str]) -> None:
    head, first, *others = shop["pairs.csv"].split("\r\n")
    for broken in (
        "\r\n".join([head.replace("day", "date"), first, *others]),
        "\r\n".join(
            [
                head,
                first.replace("298.0", "-298.0").replace("290.0", "-290.0").replace("299.5", "-1"),
                *others,
            ]
        ),
        "\r\n".join([head, "9" + first, *others]),
    ):
        with pytest.raises(AssertionError):
            reader.read({**shop, "pairs.csv": broken})
