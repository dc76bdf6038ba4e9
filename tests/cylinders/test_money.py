from decimal import Decimal

from service.cylinders.money import Price, stake

# Invented prices.
PRICES = {"R-22": Price(Decimal("12.50"), Decimal("4.10")), "R-410A": Price(Decimal("3.00"), Decimal("4.10"))}


def test_credit_charge_and_the_difference_that_a_mistake_makes():
    answer = stake({"R-22": 8.0}, PRICES)
    assert (answer.credit, answer.charge, answer.at_stake) == (
        Decimal("100.00"),
        Decimal("32.80"),
        Decimal("132.80"),
    )


def test_cents_are_exact():
    assert stake({"R-22": 0.1, "R-410A": 0.2}, PRICES).credit == Decimal("1.85")


def test_what_has_no_price_is_named():
    assert stake({"R-507A": 1.0, "R-22": 1.0}, PRICES).unpriced == ("R-507A",)
