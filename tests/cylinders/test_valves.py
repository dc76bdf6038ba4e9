import pytest

from service.cylinders.valves import phase_drawn


@pytest.mark.parametrize(
    ("valve", "position", "phase"),
    [
        # Common practice, no source.
        ("vapour", "upright", "vapour"), ("vapour", "inverted", "liquid"),
        ("liquid", "upright", "liquid"), ("liquid", "inverted", "vapour"),
    ],
)  # fmt: skip
def test_by_mark_and_position(valve, position, phase):
    assert phase_drawn(valve, position) == phase


def test_a_cylinder_stands_upright_unless_told():
    assert phase_drawn("liquid") == "liquid"
