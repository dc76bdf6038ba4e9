"""Field-prevalence tables: those that ship, and an owner's own."""

import json

import pytest

from service.store.prevalence import DATA, load_prevalence


@pytest.fixture
def own_table(tmp_path):
    document = json.loads((DATA / "prevalence.json").read_text(encoding="utf-8"))
    document["regions"] = {"my-shop": {"weights": {"R-717": 9, "R-744": 1}}}
    path = tmp_path / "table.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


@pytest.mark.parametrize("region", ["north-america", "europe"])
def test_regions_ship_with_the_package(region):
    assert load_prevalence(region).region == region


def test_an_owner_may_bring_a_table(own_table):
    table = load_prevalence(str(own_table))
    assert table.region == "my-shop"
    assert table.weights["R-717"] == 9


def test_a_table_of_two_regions_is_told(own_table):
    document = json.loads(own_table.read_text(encoding="utf-8"))
    document["regions"]["other"] = {"weights": {"R-22": 1}}
    own_table.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(ValueError, match="got 2 regions"):
        load_prevalence(str(own_table))
