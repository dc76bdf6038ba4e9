from types import SimpleNamespace

from service.verdict import cautions


def catalogue(**classes):
    return {
        name: SimpleNamespace(safety_class=SimpleNamespace(value=value)) for name, value in classes.items()
    }


def hazards(**classes):
    who = SimpleNamespace(candidates=tuple(SimpleNamespace(designation=n, probability=0.5) for n in classes))
    return " ".join(cautions._hazards(who, catalogue(**classes)))


def test_flammable_toxic_and_unknown_are_told():
    assert "flammable (A)" in hazards(A="A2L")
    assert "toxic (B)" in hazards(B="B1")
    assert "treat as flammable and toxic" in hazards(C=None)
    assert hazards(D="A1") == ""


def test_a_hot_cylinder_is_told(engine, at):
    assert any("above 52 °C" in line for line in engine.verdict([at("R-134a", 328.15)]).cautions)


def test_the_general_cautions_are_always_there(engine, at):
    assert set(cautions.ALWAYS) <= set(engine.verdict([at("R-22")]).cautions)
