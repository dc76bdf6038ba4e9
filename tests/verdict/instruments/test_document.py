import json

import numpy as np

from service.verdict.instruments.belief import aged, unchecked
from service.verdict.instruments.checks import Check, learned
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.document import from_json, to_json


def test_a_belief_survives_json():
    belief = aged(learned(unchecked(InstrumentClass(0.3, 2e3)), Check("temperature_k", 0.4, 0.05)), 1e6)
    again = from_json(json.loads(json.dumps(to_json(belief))))
    assert again.grade == belief.grade
    assert again.pairs == belief.pairs
    for name in ("weight", "mean", "cov"):
        assert np.array_equal(getattr(again.errors, name), getattr(belief.errors, name))
