from datetime import date

import pytest

from service.cylinders.requalification_stamp import (
    BadStamp,
    read_stamp,
    read_tare_kg,
    read_water_capacity_kg,
    stamp_within,
    unread_quantity,
)

TODAY = date(2026, 11, 25)

# 49 CFR 180.213 (2015 edition, read): September 2006, RIN A123 reads 9, the square A1 over 32 clockwise, 06.
STAMPS = [
    ("06-23", (2023, 6, None, "")),
    ("6/2023", (2023, 6, None, "")),
    ("9 A123 06", (2006, 9, "A123", "")),
    ("09-A123-06S", (2006, 9, "A123", "S")),
    ("9 A1 32 06", (2006, 9, "A132", "")),
    ("11-26", (2026, 11, None, "")),
    ("12-25 E", (2025, 12, None, "E")),
    ("3 B456 19★", (2019, 3, "B456", "*")),
    ("3-B456-19+*", (2019, 3, "B456", "+*")),
    ("1.C789.22 UE", (2022, 1, "C789", "UE")),
    ("5 78", (1978, 5, None, "")),
]


@pytest.mark.parametrize(("typed", "expected"), STAMPS)
def test_stamps_as_people_type_them(typed, expected):
    stamp = read_stamp(typed, on=TODAY)
    assert (stamp.year, stamp.month, stamp.rin, stamp.suffix) == expected
    assert stamp.text == typed


@pytest.mark.parametrize(
    "typed", ["12-26", "12/2026", "01-2027", "13-20", "0-20", "yesterday", "", "6 A123", "1-1890"]
)
def test_a_future_or_impossible_stamp_is_refused_and_says_what_was_expected(typed):
    with pytest.raises(BadStamp) as refused:
        read_stamp(typed, on=TODAY)
    assert repr(typed) in str(refused.value)
    assert refused.value.expected


def test_a_suffix_that_the_rule_does_not_explain_says_so():
    # 180.213 (2015): R and RS are not in the text read.
    assert "not known" in read_stamp("6-23 RS", on=TODAY).meaning
    assert read_stamp("6-23 S", on=TODAY).meaning == "proof pressure test"


@pytest.mark.parametrize(
    ("typed", "kilograms"),
    [
        ("WC 47.7 LB", 21.636),
        ("WC47.7", 21.636),
        ("W.C. 21.6 KG", 21.6),
        ("DOT-4BA400 WC 47.7LB TW 27.4", 21.636),
    ],
)
def test_water_capacity(typed, kilograms):
    assert read_water_capacity_kg(typed) == pytest.approx(kilograms, abs=0.001)


def test_water_capacity_in_litres_uses_the_pound_of_27_737_cubic_inches():
    # 49 CFR 173.304a(a)(2) note 1 (2015 edition, read): 1 lb of water = 27.737 cubic inches.
    litres = 27.737 * 0.0254**3 * 1000.0
    assert read_water_capacity_kg(f"WC {litres:.6f} L") == pytest.approx(0.45359237, rel=1e-5)


@pytest.mark.parametrize(
    ("typed", "unread"),
    [
        ("WC 1300 CU IN", "WC 1300 CU IN"), ("WC 1300 IN3 TW 27", "WC 1300 IN3"), ("DOT-4BA400 WC 6 GAL", "WC 6 GAL"),
        ("WC 47.7 STEEL", "WC 47.7 STEEL"), ("WC 47.7 LB", None), ("WC 47.7 TW 27.4", None), ("WC 47.7", None),
        ("WC 47.7 06-A123-23", None), ("WC 47.7 lbs.", None), ("DOT-4BA400", None),
    ],
)  # fmt: skip
def test_a_unit_that_is_not_known_is_never_read_as_pounds(typed, unread):
    assert unread_quantity(typed, "water_capacity_kg") == unread
    assert (read_water_capacity_kg(typed) is None) is (unread is not None or typed == "DOT-4BA400")


def test_a_tare_in_an_unknown_unit_is_unread_too():
    assert read_tare_kg("TW 27 L") is None and unread_quantity("TW 27 L", "tare_kg") == "TW 27 L"


@pytest.mark.parametrize(
    ("line", "stamp"),
    [
        ("DOT-4BA400 WC 47.7 LB TW 27.4 6 A123 23 S", "6 A123 23 S"), ("4BA400 06-A123-23 WC 47.7", "06-A123-23"),
        ("DOT-4BA400 WC 47.7 LB TW 27.4", None), ("DOT-39 NRC 250/500 M1001", None),
    ],
)  # fmt: skip
def test_the_stamp_in_a_line_of_marks(line, stamp):
    assert stamp_within(line) == stamp


def test_tare():
    assert read_tare_kg("TW 27.4") == pytest.approx(12.428, abs=0.001)
    assert read_tare_kg("Tare 12.4 kg") == pytest.approx(12.4)
    assert read_tare_kg("DOT-4BA400") is None
