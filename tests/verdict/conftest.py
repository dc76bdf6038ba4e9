import json
from pathlib import Path

import pytest

from service.verdict.engine import VerdictEngine
from service.verdict.model import Pair
from service.verdict.priors import Prevalence
from tests.verdict.synthetic import SyntheticCurves, SyntheticSurfaces

TABLE = Path(__file__).parents[2] / "service" / "verdict" / "data" / "prevalence.json"


@pytest.fixture(scope="session")
def curves():
    return SyntheticCurves()


@pytest.fixture(scope="session")
def surfaces():
    return SyntheticSurfaces()


@pytest.fixture(scope="session")
def prevalence_document():
    return json.loads(TABLE.read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def prevalence():
    return Prevalence.from_json(TABLE.read_text(encoding="utf-8"), "north-america")


@pytest.fixture(scope="session")
def engine(curves, surfaces, prevalence):
    return VerdictEngine(curves, surfaces, {}, prevalence)


@pytest.fixture(scope="session")
def at(curves):
    """A pair on the clean curve of a designation, times a factor."""

    def make(designation, temp_k=298.15, factor=1.0, **uncertainties):
        given = {
            "temp_noise_k": 0.05,
            "pressure_noise_pa": 1e3,
            "temp_bias_k": 0.2,
            "pressure_bias_pa": 2e3,
            "gain_bias": 0.0025,
        } | uncertainties
        pressure = float(curves.bubble_pressure_pa(designation, temp_k)[0]) * factor
        return Pair(temp_k, pressure, **given)

    return make
