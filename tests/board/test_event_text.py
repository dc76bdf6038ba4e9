"""Every type of event that a cylinder can have is told in words, in either unit system."""

import pytest

from service.board.event_text import happening
from service.board.quantities import Quantities

SI = Quantities()
S = "\u202f"
READ = {"temp_k": 298.15, "pressure_pa": 1.044e6}
MOVED = {"mass_kg": 4.5, "designation": None, "direction": "out"}


@pytest.mark.parametrize(
    ("kind", "data", "words"),
    [
        (
            "pair.recorded",
            {"temp_k": 298.15, "pressure_pa": 1.044e6},
            f"Settled reading: 25.0{S}°C, 1044{S}kPa absolute",
        ),
        ("cylinder.changed", {"change": "held", "reason": "burnt"}, "Put on hold: burnt"),
        (
            "cylinder.changed",
            {"change": "corrected", "gross_mass_kg": 20.0},
            f"Weighed: 20.0{S}kg with the cylinder",
        ),
        ("cylinder.changed", {"change": "inspection", "passed": False}, "Inspection failed"),
        ("hookup.changed", {"change": "detached"}, "Devices taken off"),
        (
            "transfer.recorded",
            {"mass_kg": 4.5, "designation": None, "direction": "out"},
            f"Taken out: 4.5{S}kg of unknown refrigerant",
        ),
        ("alarm.cleared", {"code": "overfull", "cylinder": "X"}, "Alarm over: Overfull"),
        (
            "verdict.reached",
            {"identity": "narrowed", "designation": "R-32"},
            "Verdict: cannot tell yet, R-32 likeliest",
        ),
        (
            "verdict.reached",
            {"identity": "identified", "designation": "R-22", "probability": 0.97, "contamination": "air"},
            f"Verdict: R-22 (97{S}%), air in it",
        ),
    ],
)
def test_in_words(kind: str, data: dict[str, object], words: str) -> None:
    assert happening(f"heelmark.{kind}", data, SI) == words


def test_an_unknown_type_is_named_as_it_is() -> None:
    assert happening("heelmark.new.thing", {}, SI) == "heelmark.new.thing"
