from service.verdict import reasons
from service.verdict.model import CylinderFacts


def test_both_unit_systems():
    assert reasons.temperature(297.95) == "24.8 °C (76.6 °F)"
    assert reasons.pressure(1044e3) == "1044 kPa (151.4 psi)"
    assert reasons.difference(-0.01) == "+0.0 K (+0.0 °F)"


def test_numbers_are_in_the_words(engine, at):
    text = " ".join(engine.verdict([at("R-22", factor=1.02)]).reasons)
    assert "25.0 °C (77.0 °F)" in text
    assert "+2.0 %" in text
    assert "no proof of purity" in text or "explain" in text


def test_a_wrong_label_is_told(engine, at):
    text = " ".join(engine.verdict([at("R-134a")], CylinderFacts(claimed_designation="R-22")).reasons)
    assert "The label says R-22" in text
    assert "R-134a instead" in text


def test_no_verdict_says_pure(engine, at):
    for factor in (0.1, 0.9, 1.0, 1.1, 4.0):
        verdict = engine.verdict([at("R-22", factor=factor)])
        text = " ".join((*verdict.reasons, *verdict.cautions, verdict.disposition.text)).lower()
        assert "is pure" not in text
        assert "it proves nothing about moisture" in text
