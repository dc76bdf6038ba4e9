"""What is typed about the equipment at rest before a recovery."""

from types import SimpleNamespace

import pytest

from service.board.forms import Form
from service.board.pages import recovery_form
from service.verdict.reading_conditions import Conditions

AT_REST = {"standing_temperature": "24", "standing_pressure": "590"}
METRIC = SimpleNamespace(inch_pound=False)


@pytest.mark.parametrize(
    ("said", "understood"),
    [
        ({}, Conditions()),
        ({"sun": "shade", "rest": "30"}, Conditions(False, 30.0, None)),
        ({"sun": "sun", "rest": "120", "clamp": "insulated"}, Conditions(True, 120.0, True)),
    ],
)
def test_how_the_temperature_of_the_equipment_was_read_goes_with_it(said, understood):
    reading = recovery_form._at_rest(Form(AT_REST | said), METRIC)
    assert reading.conditions == understood
    assert reading.temp_k == pytest.approx(297.15)


def test_an_answer_that_was_not_offered_is_named():
    form = Form(AT_REST | {"rest": "17"})
    recovery_form._at_rest(form, METRIC)
    assert form.errors == {"rest": "At rest for: '17' is not one of them"}
