"""Where the worker's mappings come from, and that it does not start with a faulty one."""

from pathlib import Path

import pytest

from ingest.runtime.settings import BadSettings, read_settings

SHIPPED = Path(__file__).parents[3] / "service" / "mappings" / "shipped"
GOOD = """
[[mapping]]
name = "NAME"
topic = "x/{place}/{device}"
[[mapping.value]]
quantity = "mass"
path = "kg"
unit = "kg"
"""


def settings(where: object) -> list[str]:
    given = {"HEELMARK_WORKER_TOKEN": "t", "HEELMARK_MAPPINGS": str(where)}
    return [mapping.name for mapping in read_settings(given).mappings]


def refused(where: object) -> str:
    with pytest.raises(BadSettings) as caught:
        settings(where)
    return str(caught.value)


def test_without_the_setting_there_are_none() -> None:
    assert read_settings({"HEELMARK_WORKER_TOKEN": "t"}).mappings == ()


def test_a_file_or_a_folder_of_files_in_the_order_of_their_names(tmp_path: Path) -> None:
    for name in ("b", "a"):
        (tmp_path / f"{name}.toml").write_text(GOOD.replace("NAME", name))
    (tmp_path / "notes.txt").write_text("not a mapping")
    assert settings(tmp_path) == ["a", "b"]
    assert settings(tmp_path / "b.toml") == ["b"]


def test_the_shipped_ones_are_good_together() -> None:
    assert len(settings(SHIPPED)) == 7


def test_a_fault_is_told_with_file_field_value_and_expectation(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_text(GOOD.replace('unit = "kg"', 'unit = "lb"'))
    assert refused(path) == (
        f"HEELMARK_MAPPINGS: {path}: mapping[0].value[0].unit: 'lb', expected one of kg, g, t, [lb_av], [oz_av]"
    )


def test_what_is_not_there_or_twice_there_is_refused(tmp_path: Path) -> None:
    assert "cannot be read" in refused(tmp_path / "none.toml")
    assert "expected a .toml or .json file" in refused(tmp_path / "none.yaml")
    assert "expected a .toml or .json file" in refused(tmp_path)
    (tmp_path / "a.toml").write_text(GOOD)
    (tmp_path / "b.toml").write_text(GOOD)
    assert "expected a name that no other mapping has" in refused(tmp_path)
