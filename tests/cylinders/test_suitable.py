from dataclasses import replace
from datetime import date

from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.state import Incoming
from service.cylinders.markings import read_marks
from service.cylinders.suitable import rank
from tests.cylinders.judgement.test_guard import EVACUATED, GOOD


def test_best_first_and_a_reason_for_every_other(knowledge):
    marked = replace(GOOD, flammable_marked=True)
    states = [
        replace(marked, serial="evacuated-large", water_capacity_kg=43.0),
        replace(marked, serial="evacuated-small"),
        replace(marked, serial="same-roomy", contents=EVACUATED.put_in("R-454B", 3.0)),
        replace(marked, serial="same-nearly-full", contents=EVACUATED.put_in("R-454B", 10.0)),
        replace(marked, serial="same-too-full", contents=EVACUATED.put_in("R-454B", 16.0)),
        replace(marked, serial="weak", marks=read_marks("DOT-4BA350")),
        replace(GOOD, serial="not-marked"),
        replace(marked, serial="other", contents=EVACUATED.put_in("R-22", 1.0)),
    ]
    judged = [judge(state, knowledge, on=date(2026, 11, 25)) for state in states]
    fit, unfit = rank(judged, Incoming("R-454B", 6.0))
    assert [one.serial for one in fit] == [
        "same-nearly-full",
        "same-roomy",
        "evacuated-small",
        "evacuated-large",
    ]
    assert {one.serial for one in unfit} == {"same-too-full", "weak", "not-marked", "other"}
    assert all(one.why for one in fit + unfit)
    assert "R-22" in next(one.why for one in unfit if one.serial == "other")
