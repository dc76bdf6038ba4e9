import pytest

from service.cylinders.carriage import TradeLoad, carriage, materials_of_trade


def test_materials_of_trade():
    # 49 CFR 173.6 (2015 edition, read): 100 kg a cylinder, 200 kg a vehicle, gross; not for 2.3 or waste.
    fine = materials_of_trade([TradeLoad("a", 100.0, ("2.2",)), TradeLoad("b", 100.0, ("2.1",))])
    assert not fine.breaches and fine.left_kg == 0.0
    heavy = materials_of_trade(
        [TradeLoad("a", 100.5, ("2.2",)), TradeLoad("b", 99.6, ("2.2",)), TradeLoad("c", 1.0, ("2.3",))]
    )
    assert [b.rule.code for b in heavy.breaches] == [
        "materials-of-trade-cylinder", "materials-of-trade-excluded", "materials-of-trade-vehicle",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("load_", "why"),
    [
        (TradeLoad("a", 10.0, (None,)), "not identified, or of no known hazard division"),
        (TradeLoad("a", 10.0, ("2.2", None)), "not identified, or of no known hazard division"),
        (TradeLoad("a", 10.0, ("2.2",), inhalation_hazard=True), "poisonous by inhalation"),
        (TradeLoad("a", 10.0, ("2.2", "2.3")), "poisonous by inhalation"),
        (TradeLoad("a", 10.0, ("2.2",), is_waste=True), "waste"),
        (TradeLoad("a", 10.0, ("2.1", "2.2")), None), (TradeLoad("a", 10.0, ()), None),
    ],
)  # fmt: skip
def test_what_is_no_material_of_trade_whatever_it_weighs(load_, why):
    # 49 CFR 173.6(a)(2) and (5), 2015 edition, read; unknown contents show no division (inferred).
    assert load_.excluded_as == why
    assert [b.rule.code for b in materials_of_trade([load_]).breaches] == (
        ["materials-of-trade-excluded"] if why else []
    )


def test_points_of_adr():
    # ADR 1.1.3.6.3 and 1.1.3.6.4, Norwegian edition 2025, read: category 1 x 50 (UN 1005 x 20), 2 x 3, 3 x 1, to 1000.
    propane = TradeLoad("a", 50.0, ("2.1",), net_kg=333.0, adr_factor=3.0)
    assert not carriage([propane], "eu").breaches and carriage([propane], "eu").left_kg == pytest.approx(1.0)
    over = carriage([propane, TradeLoad("b", 20.0, ("2.2",), net_kg=1.1, adr_factor=1.0)], "eu")
    assert [breach.rule.code for breach in over.breaches] == ["carriage-points"]
    ammonia = TradeLoad("c", 60.0, ("2.3",), net_kg=50.0, adr_factor=20.0)
    assert not carriage([ammonia], "eu").breaches
    unknown = carriage([TradeLoad("d", 20.0, (None,), net_kg=8.0)], "eu")
    assert "not identified" in unknown.breaches[0].detail


def test_carriage_under_a_law_that_was_not_read_is_refused_by_name():
    assert [breach.rule.code for breach in carriage([], "ca").breaches] == ["law-not-read"]
    assert not carriage([TradeLoad("a", 50.0, ("2.2",))], "us").breaches
